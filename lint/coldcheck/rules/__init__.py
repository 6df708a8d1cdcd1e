"""From the circuit and its solutions to findings: one module a family, one function a rule."""
