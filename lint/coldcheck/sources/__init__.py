"""Where the figures come from: one register for rules, tubes, tests and reports."""
