"""What the verbs share: the file or pipe they read, the person's units, and pages of text for a terminal."""
