"""How many connections at once, from whom, and for how long: one visitor's connections never shut out the owner."""
