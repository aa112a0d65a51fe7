"""Charts over time or a range: history, calendar, pitch, trade-offs."""
