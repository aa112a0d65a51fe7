"""Instruments of another hand than the planner's, and a maker who services them against the clock."""
