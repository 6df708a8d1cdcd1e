"""The periodic steady state: every unknown over one mains cycle."""
