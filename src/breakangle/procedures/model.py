"""What a procedure is: steps with what, why, tools, minutes, timer, dangers, and what to record."""

from collections.abc import Iterable, Iterator, Mapping
from math import prod
from typing import Annotated, Any, Final, Literal, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.words.noun import Between, Noun
from breakangle.model.words.speech import tr
from breakangle.reference.routine import cautions, cautions_against, dangers, facts

PROCEDURE_FORMAT: Final = "breakangle/procedure/1"
NAME_PATTERN = r"^[a-z][a-z0-9-]{0,59}$"
NOTED = ("note", "photograph", "recording", "room", "part", "time")  # what a step may record beside readings
Name = Annotated[str, Field(pattern=NAME_PATTERN)]
Words = Annotated[str, Field(min_length=1, max_length=600)]
# Chosen: what is known of an instrument beside the facts of the tables; whoever has its strings is not asked for it.
STRING_COUNT, USUAL_STRING_COUNT, MOST_STRINGS = "string-count", 6, 18
Minutes = Annotated[float, Between(0.0, 600.0, "minutes")]
Seconds = Annotated[int, Between(1, 86_400, "seconds", whole=True)]


class Timer(Noun):
    """Something that has to stand: at least so long, and no longer than so long."""

    words: Words
    least_s: Seconds
    most_s: Seconds

    @model_validator(mode="after")
    def _long_enough(self) -> Self:
        if self.most_s < self.least_s:
            allowed = tr(
                "a whole number from {least_s}, the least it stands, in seconds", least_s=self.least_s
            )
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": allowed, "key": "most_s"})
        return self


class Recorded(Noun):
    """Something to write down: a kind of reading (`gap`, `pitch`), or a note, photograph, the room's air."""

    kind: Name
    words: Words


class Step(Noun):
    """One step. `acts` say what it does, for what must come before what; `when` which instruments it is for.

    `each_string`: its minutes are for six strings, and go with the number there are.
    `dangers` name what can hurt in it; the cautions that are shown follow from them. `cautions` are further ones, by
    name, that a shop wants to see here.
    """

    id: Name
    do: Words
    why: Words
    tools: Annotated[tuple[Words, ...], Field(max_length=30)] = ()
    minutes: Minutes = 1.0
    each_string: bool = False
    timer: Timer | None = None
    dangers: tuple[Name, ...] = ()
    cautions: tuple[Name, ...] = ()
    acts: tuple[Name, ...] = ()
    when: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    record: tuple[Recorded, ...] = ()

    @property
    def shown_cautions(self) -> tuple[str, ...]:
        """Names of the cautions of its dangers and of its own, the gravest first."""
        asked = {row.name for row in cautions_against(self.dangers)} | set(self.cautions)
        return tuple(name for name in cautions() if name in asked)

    def share(self, known: Mapping[str, str]) -> float:
        """Return how many times its minutes it takes on an instrument of these facts."""
        count = known.get(STRING_COUNT)
        return int(count) / USUAL_STRING_COUNT if self.each_string and count else 1.0

    def fits(self, known: dict[str, str]) -> bool | None:
        """Return whether the step is for an instrument of these facts; None where one it needs is not known."""
        answers = [known[name] in choices if name in known else None for name, choices in self.when.items()]
        if False in answers:
            return False
        return None if None in answers else True


class Procedure(Noun):
    """A bench job: what for, and its steps in their usual order; `rank` is its place among the others.

    `when_asked`: no part of an ordinary visit. It stands behind the others, and its minutes count once it is begun.
    """

    format: Literal["breakangle/procedure/1"] = PROCEDURE_FORMAT
    name: Name
    title: Words
    purpose: Words
    rank: Annotated[int, Between(0, 1000, "", whole=True)] = 500
    when_asked: bool = False
    steps: Annotated[tuple[Step, ...], Field(max_length=100)]

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        places = list(self._wrong())
        if places:
            raise PydanticCustomError(
                "at", tr("must be {allowed}"), {"allowed": places[0][1], "places": places}
            )
        return self

    def _wrong(self) -> Iterator[tuple[str, str]]:
        """Yield (place, what is allowed) for names that do not exist, or stand twice."""
        if not self.steps:
            yield "steps", tr("a list of at least 1")
        ids = [one.id for one in self.steps]
        for index, one in enumerate(self.steps):
            place = f"steps[{index}]"
            if one.id in ids[:index]:
                yield f"{place}.id", tr("a name that no other step has")
            for number, name in enumerate(one.dangers):
                if name not in dangers():
                    yield f"{place}.dangers[{number}]", tr("one of {dangers}", dangers=", ".join(dangers()))
            for number, name in enumerate(one.cautions):
                if name not in cautions():
                    yield (
                        f"{place}.cautions[{number}]",
                        tr("one of {cautions}", cautions=", ".join(cautions())),
                    )
            for name, choices in one.when.items():
                if name not in facts():
                    yield f"{place}.when", tr("about {facts}", facts=", ".join(facts()))
                elif not choices or set(choices) - set(facts()[name].choices):
                    yield (
                        f"{place}.when.{name}",
                        tr("a list out of {choices}", choices=", ".join(facts()[name].choices)),
                    )

    def model_post_init(self, context: Any, /) -> None:
        """Count the format as given, so that it is always written."""
        del context
        self.model_fields_set.add("format")

    def steps_for(self, known: dict[str, str]) -> tuple[Step, ...]:
        """Return the steps for an instrument of these facts, those whose fact is not known among them."""
        return tuple(one for one in self.steps if one.fits(known) is not False)

    def asks(self, known: dict[str, str]) -> tuple[str, ...]:
        """Return the facts that would have to be known, in the order they are asked."""
        needed = {name for one in self.steps if one.fits(known) is None for name in one.when}
        return tuple(name for name in facts() if name in needed and name not in known)

    def minutes(self, known: dict[str, str], learned: Mapping[str, float] | None = None) -> float:
        """Return how long it usually takes, in minutes, as `minutes_of` has it."""
        return minutes_of(self.steps_for(known), known, learned)


def minutes_of(
    steps: Iterable[Step], known: Mapping[str, str], learned: Mapping[str, float] | None = None
) -> float:
    """Return how long these steps take together, in minutes, their timers counted.

    `learned` has the minutes of steps, by name, that a bench was timed at, timers counted; those that go with the
    number of strings are for six. Where a fact is not known,
    a step counts by the share of its choices that it is for: one knob or another is turned, never both.
    """
    total = 0.0
    for step in steps:
        usual = step.minutes + (step.timer.least_s / 60.0 if step.timer is not None else 0.0)
        shares = (
            len(set(choices)) / len(facts()[name].choices)
            for name, choices in step.when.items()
            if name not in known
        )
        total += (learned or {}).get(step.id, usual) * step.share(known) * prod(shares)
    return total
