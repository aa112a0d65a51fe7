"""Labels for cases and neck pockets."""
