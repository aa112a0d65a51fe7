"""A kind of instrument that a shop made, and the strings that any instrument has."""
