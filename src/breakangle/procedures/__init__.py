"""How a bench job is done: steps, timers, cautions, order. Procedures are data; here is what reads and runs them."""
