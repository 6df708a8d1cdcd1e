"""The laws of tubes, how they are fitted, and a tube driven to its limit."""
