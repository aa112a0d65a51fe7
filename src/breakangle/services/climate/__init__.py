"""What the air does to a neck and to its pitch."""
