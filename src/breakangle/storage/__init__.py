"""The workshop's memory: the only room that speaks SQL. Records leave it, rows do not."""
