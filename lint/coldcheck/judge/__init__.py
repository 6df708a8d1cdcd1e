"""What a rule is made of: the finding, the rule, figures and their ranges against limits."""
