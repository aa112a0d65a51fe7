"""Plan: the trips to make and why."""
