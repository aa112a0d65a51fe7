"""How a string was plucked: where, and how far it was pulled."""
