"""Lists over the whole shop: today, what is due, search, one instrument's page, lists to take along."""
