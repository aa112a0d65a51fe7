"""What other strings or another tuning will do to the state, and what new strings ask of a plan."""
