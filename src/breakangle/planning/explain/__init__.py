"""Plans in words: questions, remarks, whose target it is, the next reading to take."""
