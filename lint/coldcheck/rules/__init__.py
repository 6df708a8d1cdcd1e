"""The rules, a folder a family; a rule is one small function from a case to outcomes."""
