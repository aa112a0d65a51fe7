"""What a template must bring: one file in `templates/` that shows a KIND; its options become forms and words."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.measure import parse_length
from breakangle.model.service import Service
from breakangle.report.geometry import Drawing

Value = float | str | tuple[float, ...]


@dataclass(frozen=True)
class Option:
    """One thing a person may choose of a template: a length in mm, a whole number, lengths, or one of `choices`.

    `form` is `length`, `lengths`, `count` or `choice`; `low` and `high` bound the numbers.
    """

    name: str
    words: str
    form: str
    usual: Value
    low: float = 0.0
    high: float = 0.0
    choices: tuple[str, ...] = ()

    def read(self, given: Any) -> Value:
        """Return the value that was given, as text or number.

        Raises:
            CorrectInputError: it cannot be that.
        """
        text = str(given).strip()
        if self.form == "choice":
            if text not in self.choices:
                raise CorrectInputError(
                    f'{self.name} is "{text}"', f"one of {', '.join(self.choices)}", "choose one"
                )
            return text
        parts = text.split(";") if self.form == "lengths" else [text]
        numbers = tuple(self._number(one) for one in parts if one.strip())
        if self.form == "lengths":
            return numbers
        if not numbers:
            raise CorrectInputError(f"{self.name} is empty", self.allowed, "")
        return numbers[0]

    @property
    def allowed(self) -> str:
        """Return in words what may be given."""
        if self.form == "choice":
            return f"one of {', '.join(self.choices)}"
        if self.form == "count":
            return f"a whole number from {self.low:g} to {self.high:g}"
        many = "lengths with ; between, each " if self.form == "lengths" else ""
        return f"{many}from {self.low:g} to {self.high:g} mm"

    def _number(self, text: str) -> float:
        if self.form == "count":
            if not text.strip().isdecimal() or not self.low <= int(text) <= self.high:
                raise CorrectInputError(f'{self.name} is "{text}"', self.allowed, "")
            return int(text)
        return parse_length(text, low_mm=self.low, high_mm=self.high).mm


@dataclass(frozen=True)
class TemplateKind:
    """A template: its name, what it is in words, what may be chosen, and the drawing it makes of a service.

    `draw` gets the service and every option's value by name.
    """

    name: str
    words: str
    told: str
    draw: Callable[[Service, Mapping[str, Any]], Drawing]
    options: tuple[Option, ...] = ()

    def drawing(self, service: Service, given: Mapping[str, Any] | None = None) -> Drawing:
        """Return the drawing of this service's instrument, with the options given and the usual rest.

        Raises:
            CorrectInputError: no such option, a value it cannot have, or an instrument this cannot be drawn of.
        """
        known = {one.name: one for one in self.options}
        for name in given or {}:
            if name not in known:
                raise CorrectInputError(
                    f'"{name}" is nothing to choose of {self.words}',
                    f"one of {', '.join(known) or 'nothing'}",
                    "",
                )
        values = {
            name: one.read(given[name]) if given and name in given else one.usual
            for name, one in known.items()
        }
        return self.draw(service, values)
