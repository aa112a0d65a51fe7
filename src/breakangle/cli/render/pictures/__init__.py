"""Pictures that verbs draw."""
