"""Make: nuts, saddles and other parts computed before they are cut."""
