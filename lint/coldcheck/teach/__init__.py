"""Teaching: exercises with a planted mistake, hints, answers and the score."""
