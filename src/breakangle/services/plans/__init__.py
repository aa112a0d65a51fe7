"""A visit solved, and its plan as a page shows it: figures, steps done, lowest set-up, what-if."""
