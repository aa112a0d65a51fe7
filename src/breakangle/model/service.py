"""One service of one instrument: what it is, what was read, what was done, what is wanted."""

from collections.abc import Iterator
from typing import Annotated, Any, Final, Literal, Self

from pydantic import Field, SerializeAsAny, model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.body import TopRead
from breakangle.model.concern import Complaint
from breakangle.model.instrument import Instrument
from breakangle.model.json_text import step
from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.model.words.noun import Between, Noun
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import KEYS

SERVICE_FORMAT: Final = "breakangle/service/1"
SECOND_FORMAT: Final = "breakangle/service/2"
ServiceFormat = Literal["breakangle/service/1", "breakangle/service/2"]
Hand = Literal["light", "medium", "heavy"]


class Room(Noun):
    """The air the instrument was read in."""

    temperature_c: Annotated[float, Between(-10.0, 50.0, "°C")] | None = None
    humidity_percent: Annotated[float, Between(1.0, 100.0, "%")] | None = None


class Targets(Noun):
    """What is wanted: the house's figures for a hand, and single wishes that replace them."""

    hand: Hand = "medium"
    no_buzz_at: Hand | None = None
    wanted: tuple[SerializeAsAny[Target], ...] = ()

    @property
    def strength(self) -> Hand:
        """Return the strength of play that it is judged at: the one no note may buzz at, else the player's own."""
        return self.no_buzz_at or self.hand


class Service(Noun):
    """One service, as the service file holds it."""

    format: ServiceFormat = SERVICE_FORMAT
    instrument: Instrument
    reference_hz: Annotated[float, Between(380.0, 500.0, "Hz")] = 440.0
    room: Room | None = None
    targets: Targets | None = None
    top: TopRead | None = None
    complaints: Annotated[tuple[Complaint, ...], Field(max_length=50)] = ()
    readings: Annotated[tuple[SerializeAsAny[Reading], ...], Field(max_length=10000)] = ()
    work: Annotated[tuple[SerializeAsAny[Adjustment], ...], Field(max_length=10000)] = ()

    @model_validator(mode="after")
    def _fits_the_instrument(self) -> Self:
        places = [(f"{path}.{key}", allowed) for path, key, allowed in self._misfits()]
        if places:
            raise PydanticCustomError(
                "at", tr("must be {allowed}"), {"allowed": places[0][1], "places": places}
            )
        return self

    def _misfits(self) -> Iterator[tuple[str, str, str]]:
        """Yield what does not fit: place, key, what is allowed."""
        for index, reading in enumerate(self.readings):
            if reading.after > len(self.work):
                yield (
                    f"readings[{index}]",
                    "after",
                    tr("at most {work_count}, the number of adjustments in work", work_count=len(self.work)),
                )
            for key, allowed in reading.misfits(self.instrument):
                yield f"readings[{index}]", key, allowed
        for index, adjustment in enumerate(self.work):
            for key, allowed in adjustment.misfits(self.instrument):
                yield f"work[{index}]", key, allowed
        for index, complaint in enumerate(self.complaints):
            for key, allowed in complaint.misfits(self.instrument):
                yield f"complaints[{index}]", key, allowed
        for index, target in enumerate(self.targets.wanted if self.targets else ()):
            for key, allowed in target.misfits(self.instrument):
                yield f"targets.wanted[{index}]", key, allowed

    def model_post_init(self, context: Any, /) -> None:
        """Count the format as given, so that it is always written."""
        del context
        self.model_fields_set.add("format")

    def written_format(self) -> ServiceFormat:
        """Return the form that this service is written in: the first one, unless something in it came later."""
        numbers = [self.instrument.format_number(), *(one.format_number() for one in self.work)]
        return SECOND_FORMAT if max(numbers) > 1 or self.top is not None else SERVICE_FORMAT

    def instrument_now(self) -> Instrument:
        """Return the instrument as the work so far has left it (new strings, for one)."""
        instrument = self.instrument
        for adjustment in self.work:
            instrument = adjustment.changed_instrument(instrument)
        return instrument


def unknown_keys(noun: Any, path: str = "$") -> Iterator[str]:
    """Yield the JSON path of every key that no model knows; they are kept, and reported."""
    if isinstance(noun, Noun):
        for key in noun.model_extra or {}:
            if key not in KEYS:
                yield step(path, key)
        for key in type(noun).model_fields:
            yield from unknown_keys(getattr(noun, key), f"{path}.{key}")
    elif isinstance(noun, tuple):
        for index, item in enumerate(noun):
            yield from unknown_keys(item, f"{path}[{index}]")
