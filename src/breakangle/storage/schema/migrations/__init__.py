"""How the schema came to be what it is: forward only, one file a step."""
