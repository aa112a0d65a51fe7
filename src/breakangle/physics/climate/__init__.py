"""What the air does to wood."""
