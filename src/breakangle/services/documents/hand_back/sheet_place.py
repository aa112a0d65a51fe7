"""Where a photograph stands on the owner's sheet."""

BEFORE, AFTER = "before", "after"
SHOWN = (BEFORE, AFTER)
