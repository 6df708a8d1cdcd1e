"""At the bench: what to measure on a circuit, how, and what each instrument will show."""
