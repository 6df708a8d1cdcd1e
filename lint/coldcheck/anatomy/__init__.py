"""What a circuit is: supplies, rectifiers, heater lines, galvanic parts, feedback loops, stages."""
