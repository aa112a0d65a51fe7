"""The bridge: floating balance, the body that gives way, one crown under several strings."""
