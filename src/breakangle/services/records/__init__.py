"""Records looked after: edited, exported, brought in after checks, backed up, erased."""
