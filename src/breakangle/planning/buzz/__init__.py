"""Where the instrument buzzes, who is at fault, how low it can go, and what-if."""
