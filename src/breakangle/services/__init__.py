"""Use cases: what a person asks for, a function each. Knows neither the web nor the command line."""
