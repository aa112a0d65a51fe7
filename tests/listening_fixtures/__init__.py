"""Test signals for listening: plucks made from physics, nasty sounds, recorded notes. Shares no code with
the estimator."""
