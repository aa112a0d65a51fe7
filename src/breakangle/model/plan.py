"""What the planner answers: trips of steps, findings, questions, and the state now and then."""

from typing import Annotated, Any, Final, Literal

from pydantic import Field, SerializeAsAny, computed_field, model_serializer

from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Targets
from breakangle.model.words.message import Message
from breakangle.model.words.noun import Noun

PLAN_FORMAT: Final = "breakangle/plan/2"
Verdict = Literal["leave", "read-first", "adjust", "beyond-setup"]
Slacken = Literal["no", "a-little", "fully"]
Ask = Literal["reading", "inches", "typing-slip", "note", "gauge"]


class Step(Noun):
    """One adjustment to make, why, with what care, and what should be read afterwards.

    `reason` says what to do, and why; `why` alone, a sentence of its own, stands in no file.
    """

    adjustment: SerializeAsAny[Adjustment]
    reason: str
    why: str = ""
    caution: tuple[str, ...] = ()
    # What can hurt in it, by the names of the table of dangers: the cautions follow from them.
    dangers: tuple[str, ...] = ()
    screw: str | None = None
    expect: tuple[SerializeAsAny[Reading], ...] = ()
    # The trip it belongs to, counted from 1.
    trip: int = 1

    @model_serializer(mode="plain")
    def _flat(self) -> dict[str, Any]:
        """Write the adjustment's own keys beside the reason, as the form asks."""
        flat = self.adjustment.model_dump(exclude_none=True, exclude_unset=True)
        flat |= {"reason": self.reason, "caution": list(self.caution), "dangers": list(self.dangers)}
        if self.screw is not None:
            flat["screw"] = self.screw
        expect = [one.model_dump(exclude_none=True, exclude_unset=True) for one in self.expect]
        return flat | {"expect": expect, "trip": self.trip}


class Response(Noun):
    """One learned response of this instrument: its value with the standard uncertainty."""

    name: str
    words: str
    value: float
    uncertainty: float
    unit: str


class Solved(Noun):
    """A state as it reads: every figure that targets speak of, and the responses, with uncertainty."""

    readings: tuple[SerializeAsAny[Reading], ...]
    responses: tuple[Response, ...] = ()


class Trip(Noun):
    """What is done in one go, between taking a thing in hand and putting it back, in minutes at the bench.

    `name` is its kind's key; `reads` is what is read at its end, `tools` are keys of what lies ready.
    """

    trip: int
    name: str
    slacken: Slacken
    minutes: float
    tools: tuple[str, ...] = ()
    reads: tuple[SerializeAsAny[Reading], ...] = ()


class Size(Noun):
    """How large something found is, in `unit`, with the interval that holds it 19 times in 20."""

    value: float
    low: float
    high: float
    unit: str


class Where(Noun):
    """Where something was found; what does not matter is left out."""

    strings: tuple[int, ...] = ()
    frets: tuple[int, ...] = ()
    part: str = ""


class Finding(Noun):
    """A pattern over many readings: what it is, where, how large, how probable, and what it rests on.

    `tolerance` is the size from which it matters, in the unit of `size`. `holds_cuts`: nothing is cut before it
    has been answered. `message` says it to a person, with what to do.
    """

    finding: str
    where: Where
    probability: float
    size: Size | None
    tolerance: float
    holds_cuts: bool
    message: Message
    rests_on: tuple[SerializeAsAny[Reading], ...] = ()


class Question(Noun):
    """One thing asked of a person before more is decided; the deciding one stands first in a plan.

    `readings` are those to take, or those that are doubted. `decides` names what opens with the answer: keys of
    adjusters as forms name them (`nut-slot_6`), or `verdict`.
    """

    ask: Ask
    readings: tuple[SerializeAsAny[Reading], ...]
    message: Message
    decides: tuple[str, ...] = ()
    minutes: float = 0.25
    as_mm: float | None = None
    as_inches: float | None = None


class Note(Noun):
    """One thing more to know of a plan, in words; whoever looks for it goes by its `key`, never by the words.

    `of` is the sort of figure that a note of what stays outside is about, such as `action`, and `why` its reason.
    """

    key: str
    words: str
    of: str = ""
    why: str = ""


class Plan(Noun):
    """The answer to one service.

    `noted` are its notes with their keys, most pressing first; a file holds their words alone, as `notes`. `unreached`
    are the places, among the wanted targets, of those that the plan calls beyond a set-up; no file holds them.
    """

    format: Literal["breakangle/plan/2"] = PLAN_FORMAT
    verdict: Verdict
    steps: tuple[Step, ...]
    now: Solved
    then: Solved
    targets: Targets
    noted: tuple[Note, ...] = Field(default=(), exclude=True)
    unreached: tuple[int, ...] = Field(default=(), exclude=True)
    trips: tuple[Trip, ...] = ()
    findings: tuple[Finding, ...] = ()
    questions: tuple[Question, ...] = ()
    # Figures so near the edge of their tolerance that they are worth reading twice before a thing is touched.
    read_again: tuple[SerializeAsAny[Reading], ...] = ()
    # What one more reading would tell most, if anything is still open.
    read_next: Annotated[SerializeAsAny[Reading] | None, "the most telling further reading"] = None

    @computed_field  # type: ignore[prop-decorator]
    @property
    def notes(self) -> tuple[str, ...]:
        """Return the notes in words, each once."""
        return tuple(dict.fromkeys(one.words for one in self.noted))

    def notes_of(self, *keys: str) -> tuple[Note, ...]:
        """Return the notes that have one of these keys."""
        return tuple(one for one in self.noted if one.key in keys)

    def without_notes(self, *keys: str) -> "Plan":
        """Return the plan without the notes that have one of these keys."""
        return self.model_copy(update={"noted": tuple(one for one in self.noted if one.key not in keys)})

    def model_post_init(self, context: Any, /) -> None:
        """Count the format and the lists of this form as given, so that they are always written."""
        del context
        self.model_fields_set.update(("format", "trips", "findings", "questions"))
