"""`python -m breakangle` is the `breakangle` command."""

from breakangle.cli.main import enter

enter()
