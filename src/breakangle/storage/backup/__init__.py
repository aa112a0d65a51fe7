"""Backups: verified copies of the shop, their list and order, and the keeper that makes them in time."""
