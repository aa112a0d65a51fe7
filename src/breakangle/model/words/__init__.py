"""Messages as data, and words of the trade: nouns, units, near misses."""
