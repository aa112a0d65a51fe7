"""The nouns of the bench, their units, the errors, and the service file. Innermost: knows no other room."""
