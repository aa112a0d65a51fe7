"""Shops to test with: the same tests on a SQLite file and on a PostgreSQL server started for them."""
