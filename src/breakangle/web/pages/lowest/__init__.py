"""How low this neck can go."""
