"""Trade and material figures, each row with its source. Data files, and small functions that look them up."""
