"""Design at the desk: from what is wanted of an instrument to the geometry that gives it, before wood is cut."""
