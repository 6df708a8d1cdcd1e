"""Circuit and state -> waveforms: the periodic steady state of the whole drawing."""

from coldcheck.solve.engine import solve_state, solve_states

__all__ = ["solve_state", "solve_states"]
