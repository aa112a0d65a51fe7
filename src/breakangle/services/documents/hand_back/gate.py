"""What stands open as an instrument goes back: each is asked, and goes back only with an answer or a reason."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from breakangle.documents.sheets.complaints import COMPLAINT, OWN_WORDS, complaint_words
from breakangle.documents.sheets.found import still_words
from breakangle.documents.sheets.standing import standing_of
from breakangle.listening.naming.settling import TOLERANCE_CENTS
from breakangle.model.errors import CorrectInputError
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.said import strings_in_words
from breakangle.model.words.speech import tr, tr_n
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.trips.told import only_surer
from breakangle.reference.messages import words
from breakangle.services.documents.hand_back.words import reasons_of
from breakangle.services.plans.standings import Standings
from breakangle.services.visits.complaints import complaints_in
from breakangle.storage.records.records import Visit

FIGURES, READINGS, UNSETTLED = "figures", "readings", "unsettled"
FEWEST_SIGNS = 3  # of a reason: a mark is none


class GateOpenError(CorrectInputError):
    """Something stands open, and nobody has answered it or written why; `asked` says what."""

    def __init__(self, asked: "tuple[Asked, ...]") -> None:
        """Keep what is asked, so that a page can ask it."""
        self.asked = asked
        told = " ".join(words(one.message) for one in asked)
        count = tr_n(
            "{asked_count} thing stands open: {told}",
            "{asked_count} things stand open: {told}",
            len(asked),
            asked_count=len(asked),
            told=told.rstrip("."),
        )
        super().__init__(
            count, tr("each answered, or a reason written"), tr("answer it, or write why it goes back so")
        )


@dataclass(frozen=True)
class Asked:
    """One thing that stands open: a `key` that a reason is sent back under, and the question."""

    key: str
    message: Message

    @property
    def sort(self) -> str:
        """Return which sort of question it is."""
        return self.key.partition(":")[0]


def asked_at_hand_back(visit: Visit, found: Standings) -> tuple[Asked, ...]:
    """Return what stands open: figures outside and unexplained, readings waited for, complaints, unsettled strings."""
    return (
        *_complaints(visit),
        *_figures(found),
        *_readings(found),
        *_unsettled(found.service, found.after),
    )


def unanswered(asked: tuple[Asked, ...], reasons: Mapping[str, str]) -> tuple[Asked, ...]:
    """Return what nobody has written a reason for."""
    return tuple(one for one in asked if len(reasons.get(one.key, "").strip()) < FEWEST_SIGNS)


def _complaints(visit: Visit) -> Iterator[Asked]:
    complaints = complaints_in(visit)
    for number, one in enumerate(complaints, start=1):
        if one.answer is None:
            message = Message(
                key="hand_back.complaint", values={"what": complaint_words(one)}, severity="care"
            )
            yield Asked(f"{COMPLAINT}:{number}", message)
    if visit.complaint.strip() and not complaints:
        message = Message(key="hand_back.words", values={"words": visit.complaint.strip()}, severity="care")
        yield Asked(OWN_WORDS, message)


def _figures(found: Standings) -> Iterator[Asked]:
    standing = standing_of(found.service, found.before, found.after, found.declined)
    reasons = reasons_of(found)
    for group in standing.groups:
        if group.outside(after=True) and not reasons.of(group.name, standing.declined):
            values = {"said": still_words(group)}
            yield Asked(
                f"{FIGURES}:{group.name}", Message(key="hand_back.figures", values=values, severity="care")
            )


def _readings(found: Standings) -> Iterator[Asked]:
    waiting = () if only_surer(found.plan) else found.plan.questions
    if waiting:
        first = words(waiting[0].message)
        values = {"count": len(waiting), "first": first}
        key = "hand_back.readings_one" if len(waiting) == 1 else "hand_back.readings"
        yield Asked(READINGS, Message(key=key, values=values, severity="care"))
    elif found.plan.verdict == "read-first":
        yield Asked(READINGS, Message(key="hand_back.read_first", severity="care"))


def _unsettled(service: Service, now: Estimate) -> Iterator[Asked]:
    """Yield the strings fitted at this visit that nobody has heard since, or that were not at their note."""
    fitted = max(
        (done for done, one in enumerate(service.work, start=1) if one.adjust == "restring"), default=0
    )
    if not fitted:
        return
    last: dict[int, Reading] = {}
    for reading in service.readings:
        if (
            reading.quantity == "pitch"
            and reading.fret == 0
            and reading.after >= fitted
            and reading.string is not None
        ):
            last[reading.string] = reading
    unheard = [one.string for one in service.instrument_now().strings if one.string not in last]
    off = [
        string
        for string, one in last.items()
        if abs(reading_kind(one).value(one, now.board))
        > TOLERANCE_CENTS + 2.0 * reading_kind(one).spread(one)
    ]
    for key, strings in (("unheard", unheard), ("off", off)):
        if strings:
            values = {"strings": strings_in_words(strings)}
            message = Message(key=f"hand_back.unsettled_{key}", values=values, severity="care")
            yield Asked(f"{UNSETTLED}:{key}", message)
