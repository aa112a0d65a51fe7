"""A person erased from everything the shop keeps, with a note of what was kept and why."""
