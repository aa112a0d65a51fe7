"""What can stand between a person and the shop's records, named by what to do next."""

from typing import Any

from breakangle.model.errors import BreakangleError, CorrectInputError
from breakangle.model.words.speech import tr


class ShopOutOfReachError(BreakangleError):
    """The records cannot be reached just now: nothing was stored, what was stored is safe, try again."""


class ShopDamagedError(BreakangleError):
    """A file of the records is damaged: restore a backup into a new shop."""


class ShopMissingError(ShopDamagedError):
    """The shop's records are gone, empty or another shop's, beside what shows that there were some: restore them."""


class ShopMovedError(ShopOutOfReachError):
    """The open records are no longer those at their place, or another program has taken them over: open them again."""


class NewerShopError(BreakangleError):
    """The records were written by a newer program: install that one."""


class NoSuchRecordError(CorrectInputError):
    """There is no such record, or it has been deleted."""


class VisitClosedError(CorrectInputError):
    """The visit was handed back and is closed: open an amendment first, and say why."""


class PairingRefusedError(CorrectInputError):
    """The code pairs nothing: mistyped, used, too old, or tried too often; which of these is not told."""


class EditedMeanwhileError(BreakangleError):
    """Somebody else was first; `theirs` is what stands there now, `yours` what would have replaced it."""

    def __init__(self, what: str, theirs: Any, yours: Any, who: str) -> None:
        """Keep both, so that a person can see both and choose."""
        self.theirs, self.yours = theirs, yours
        given = tr("{what} was changed by {who} while you had it open", what=what, who=who)
        super().__init__(given, tr("nothing of either was lost"), tr("look at both and choose"))
