"""Errors, named by what the person does next. Each says what was given, what is possible, what to do."""

from breakangle.model.words.speech import tr


class BreakangleError(Exception):
    """Root of every error this program raises on purpose: one plain sentence for page, terminal and log."""

    def __init__(self, given: str, possible: str = "", remedy: str = "") -> None:
        """Keep the three parts apart, so that a page can show them apart.

        Args:
            given: what was given, with its value, unit and place.
            possible: what would be right.
            remedy: what to do now.
        """
        # Said in the language of whoever asked, who may not be the one that reads a log of it.
        self.given, self.possible, self.remedy = str(given), str(possible), str(remedy)
        super().__init__("; ".join(part for part in (self.given, self.possible, self.remedy) if part) + ".")

    def __reduce__(self) -> tuple[object, ...]:
        """Return how it is made again in another process, its three parts apart."""
        return type(self), (self.given, self.possible, self.remedy)


class CorrectInputError(BreakangleError):
    """A value cannot be right: correct it and try again."""


class ChooseAnotherFileError(BreakangleError):
    """This file cannot be used: name another, or mend it."""


class ReadAgainError(BreakangleError):
    """A reading or a take cannot be trusted: take it again."""


class BusyError(BreakangleError):
    """As many as may be are waiting already: come back in `retry_after_s`."""

    def __init__(self, kind: str, ahead: int, retry_after_s: float) -> None:
        """Keep how many are ahead, and when to come back."""
        self.ahead, self.retry_after_s = ahead, max(1, round(retry_after_s))
        given = tr("the bench is busy with {kind}, {ahead} ahead", kind=tr(kind), ahead=ahead)
        super().__init__(
            given,
            tr("nothing was stored"),
            tr("try again in {retry_after_s} s", retry_after_s=self.retry_after_s),
        )


class InstallError(BreakangleError):
    """An optional part is not installed: install it."""
