"""Readings to state (estimate), history to responses (learn), state and targets to steps (plan)."""
