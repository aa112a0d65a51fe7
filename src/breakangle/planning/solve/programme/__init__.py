"""The question in numbers and its solvers: problem, constraints, stages of the work."""
