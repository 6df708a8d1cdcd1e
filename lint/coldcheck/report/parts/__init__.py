"""The parts list and the list of leads: text, CSV, HTML."""
