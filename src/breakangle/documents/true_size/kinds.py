"""What a template must bring: one file in `templates/` that shows a KIND; its options become forms and words."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from breakangle.documents.true_size.geometry import Drawing
from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import INCH_MM, parse_length, range_words
from breakangle.model.service import Service
from breakangle.model.typed_number import number_within, whole_within
from breakangle.model.words.speech import tr

SIXTY_FOURTH_MM = INCH_MM / 64.0
Value = float | str | tuple[float, ...]
BARE = ("count", "ratio")  # numbers without a unit


def in_inches(mm: float) -> str:
    """Return a length as a rule in inches shows it: in 64ths where it is so many of them, else in decimals."""
    count = mm / SIXTY_FOURTH_MM
    whole = round(count)
    if whole and abs(count - whole) < 1e-6 and whole < 64:
        return f"{whole}/64"
    return f"{round(mm / INCH_MM, 4):g}"


def figure_in(mm: float, own_unit: str = "mm", signed: bool = False, decimals: int = 2) -> str:
    """Return a length as a bare number among the words of a drawing: mm to so many decimals, inches to 0.001."""
    sign = "+" if signed else ""
    return f"{mm:{sign}.{decimals}f}" if own_unit == "mm" else f"{mm / INCH_MM:{sign}.3f}"


@dataclass(frozen=True)
class Option:
    """One thing a person may choose of a template: a length in mm, a number, lengths, or one of `choices`.

    `form` is `length`, `lengths`, `count` (whole), `ratio` (a bare number) or `choice`; `low` and `high` bound the
    numbers. `own_unit`, `mm` or `in`, is the unit of whoever chooses: that of a length without one, and of what is
    said of it. `usual_in`: another usual value, in mm too, for whoever works in inches; None: the same.
    """

    name: str
    words: str
    form: str
    usual: Value
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()
    usual_in: float | None = None

    def usual_for(self, own_unit: str = "mm") -> Value:
        """Return the usual value of whoever works in this unit, lengths in mm."""
        return self.usual if own_unit == "mm" or self.usual_in is None else self.usual_in

    def read(self, given: Any, own_unit: str = "mm") -> Value:
        """Return the value that was given, as text or number.

        Raises:
            CorrectInputError: it cannot be that.
        """
        text = str(given).strip()
        if text == self.usual_text(own_unit):  # which is written no finer than a person reads it
            return self.usual_for(own_unit)
        if self.form == "choice":
            if text not in self.choices:
                raise CorrectInputError(
                    tr('{name} is "{text}"', name=self.name, text=text),
                    tr("one of {choices}", choices=", ".join(self.choices)),
                    tr("choose one"),
                )
            return text
        parts = text.split(";") if self.form == "lengths" else [text]
        numbers = tuple(self._number(part, own_unit) for part in parts if part.strip())
        if self.form == "lengths":
            return numbers
        if not numbers:
            raise CorrectInputError(tr("{name} is empty", name=self.name), self.allowed(own_unit), "")
        return numbers[0]

    def allowed(self, own_unit: str = "mm") -> str:
        """Return in words what may be given."""
        if self.form == "choice":
            return tr("one of {choices}", choices=", ".join(self.choices))
        if self.form == "count":
            return tr("a whole number from {low:g} to {high:g}", low=self.low, high=self.high)
        if self.form == "ratio":
            return tr("a number from {low:g} to {high:g}", low=self.low, high=self.high)
        many = tr("lengths with ; between, each ") if self.form == "lengths" else ""
        return f"{many}{range_words(self.low, self.high, own_unit)}"

    def asked(self, own_unit: str = "mm") -> str:
        """Return in words what is asked for."""
        return self.words if own_unit == "mm" else self.words.replace(", mm", f", {own_unit}")

    def usual_text(self, own_unit: str = "mm") -> str:
        """Return the usual value as it may be given, lengths in the unit of whoever chooses."""
        usual = self.usual_for(own_unit)
        if isinstance(usual, str):
            return usual
        is_inch = own_unit != "mm" and self.form not in BARE
        every = usual if isinstance(usual, tuple) else (usual,)
        return "; ".join(in_inches(one) if is_inch else f"{one:g}" for one in every)

    def _number(self, text: str, own_unit: str) -> float:
        if self.form in BARE:
            whole, low, high = self.form == "count", self.low, self.high
            number = whole_within(text, int(low), int(high)) if whole else number_within(text, low, high)
            if number is None:
                raise CorrectInputError(
                    tr('{name} is "{text}"', name=self.name, text=text), self.allowed(), ""
                )
            return number
        return parse_length(text, own_unit, self.low, self.high).mm


@dataclass(frozen=True)
class TemplateKind:
    """A template: its name, what it is in words, what may be chosen, and the drawing it makes of a service.

    `draw` gets the service and every option's value by name, and under `own_unit` the unit that bare numbers among
    the words of its drawing are in, `mm` or `in`.
    """

    name: str
    words: str
    told: str
    draw: Callable[[Service, Mapping[str, Any]], Drawing]
    options: tuple[Option, ...] = ()

    def drawing(
        self, service: Service, given: Mapping[str, Any] | None = None, own_unit: str = "mm"
    ) -> Drawing:
        """Return the drawing of this service's instrument, with the options given and the usual rest.

        Lengths given without a unit are in `own_unit`.

        Raises:
            CorrectInputError: no such option, a value it cannot have, or an instrument this cannot be drawn of.
        """
        known = {option.name: option for option in self.options}
        for name in given or {}:
            if name not in known:
                raise CorrectInputError(
                    tr('"{name}" is nothing to choose of {words}', name=name, words=self.words),
                    tr("one of {known}", known=", ".join(known) or tr("nothing")),
                    "",
                )
        values = {
            name: one.read(given[name], own_unit) if given and name in given else one.usual_for(own_unit)
            for name, one in known.items()
        }
        return self.draw(service, values | {"own_unit": own_unit})
