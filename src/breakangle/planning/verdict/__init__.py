"""What is wrong with an instrument and what may be said of it: one judgement that every page and sheet speaks from."""
