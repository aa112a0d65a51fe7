"""The verbs of the command, in folders by topic; each file brings `add(verbs)` and `run(arguments)`."""
