"""What one workshop wants of its drawings beyond what coldcheck looks for."""
