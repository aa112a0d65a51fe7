"""Files beside the database: recordings and photographs by their hash, and the list of backups."""
