"""Search by words, and by words like them."""
