"""Templates at true size, one file each."""
