"""After switch-off: what conducts, and every charge on its way down."""
