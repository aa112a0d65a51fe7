"""`python -m breakangle.cli` is the `breakangle` command."""

from breakangle.cli.main import enter

enter()
