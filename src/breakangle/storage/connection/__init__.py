"""Opening the records: the engine, the lease, the shop's identity, and whether they are still in place."""
