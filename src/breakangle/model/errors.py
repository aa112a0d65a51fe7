"""Errors, named by what the person does next. Each says what was given, what is possible, what to do."""


class BreakangleError(Exception):
    """Root of every error this program raises on purpose: one plain sentence for page, terminal and log."""

    def __init__(self, given: str, possible: str = "", remedy: str = "") -> None:
        """Keep the three parts apart, so that a page can show them apart.

        Args:
            given: what was given, with its value, unit and place.
            possible: what would be right.
            remedy: what to do now.
        """
        self.given, self.possible, self.remedy = given, possible, remedy
        super().__init__("; ".join(part for part in (given, possible, remedy) if part) + ".")


class CorrectInputError(BreakangleError):
    """A value cannot be right: correct it and try again."""


class ChooseAnotherFileError(BreakangleError):
    """This file cannot be used: name another, or mend it."""


class ReadAgainError(BreakangleError):
    """A reading or a take cannot be trusted: take it again."""


class InstallError(BreakangleError):
    """An optional part is not installed: install it."""
