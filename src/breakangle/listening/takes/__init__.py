"""One take judged: what it shows, and every reason to doubt or refuse it."""
