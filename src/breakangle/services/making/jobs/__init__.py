"""Making jobs, one file each."""
