"""Templates: one environment, with words, numbers and dates as the visitor's browser writes them."""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse

from breakangle import __version__
from breakangle.documents.renderers.page_units import rows_in_inches, sentence_in_inches
from breakangle.model.instrument import Instrument
from breakangle.model.measure import INCH_MM, POUND_FORCE_N, inch_decimals, sixty_fourths
from breakangle.model.words.message import Message
from breakangle.model.words.said import said_in, strings_in_words, whole_in_inches
from breakangle.model.words.speech import tr
from breakangle.reference.messages import words as message_words
from breakangle.web.assets import asset
from breakangle.web.texts import words
from breakangle.web.visitor import Visitor, visitor_of

MINUS = "\N{MINUS SIGN}"
MAIL, TELEPHONE = re.compile(r"[^\s@:?&]+@[^\s@:?&]+\.[^\s@:?&]+"), re.compile(r"\+?[\d\s()/.-]+")
FEWEST_DIGITS = 5
# A pull in a sentence of the planner's, such as `1021 N`; not a stiffness, which goes on with a stroke.
PULL = re.compile(r"(?<![\d.])(?P<newton>\d+(?:\.\d+)?)(?: ± \d+(?:\.\d+)?)? N\b(?!/)")


@cache
def environment() -> Environment:
    """Return the templates' environment: everything escaped, a missing value is an error."""
    made = Environment(
        loader=FileSystemLoader(
            [Path(__file__).parent / "templates", *sorted((Path(__file__).parent / "pages").glob("*/"))]
        ),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(asset=asset, version=__version__, kind_words=kind_words)
    return made


# A page has hundreds of numbers, and most are there again at the next look.
@lru_cache(maxsize=8192)
def _written(value: float, decimals: int, locale: str) -> str:
    from babel.numbers import format_decimal

    shape = "#,##0" + ("." + "0" * decimals if decimals else "")
    text: str = format_decimal(value, format=shape, locale=locale)
    return text


def kind_words(one: Any) -> str:
    """Return what the kind of an instrument, its record or a family itself is called; a shop's kind tells its own."""
    if getattr(one, "words", "") and hasattr(one, "kind"):
        return tr(one.words)
    table = getattr(one, "kind_table", None)
    body = getattr(one, "body", "")  # of a record its text; an instrument's own is what is told of its wood
    if table is None and isinstance(body, str) and '"kind_table"' in body:
        table = Instrument.model_validate_json(body).kind_table
    return words(f"kinds.{one.kind}") if table is None else str(table.words)


class Shown:
    """Numbers, lengths and dates as one visitor reads them."""

    def __init__(self, visitor: Visitor) -> None:
        """Keep whose eyes they are for."""
        self.visitor = visitor

    def number(self, value: float, decimals: int = 2, signed: bool = False) -> str:
        """Return a number with so many decimals."""
        text = _written(abs(value), decimals, self.visitor.locale)
        zero = round(abs(value), decimals) == 0
        sign = MINUS if value < 0 and not zero else "+" if signed and not zero else ""
        return f"{sign}{text}"

    def length(self, mm: float, signed: bool = False, unit: bool = True, coarse: bool = False) -> str:
        """Return a length in the visitor's unit: mm to 0.01, inches to 0.001, small ones finer; `coarse` ones rougher.

        `coarse` ones are to 0.1 mm or 0.01 in.
        """
        text = self._length(mm, self._decimals(mm, coarse=coarse), signed)
        return f"{text} {self.unit}" if unit else text

    def span(
        self,
        mm: float,
        wide_mm: float,
        beside: Iterable[float] = (),
        signed: bool = False,
        unit: bool = False,
    ) -> str:
        """Return a length and the ± behind it, both as finely; as finely as those `beside` it in its row need."""
        decimals = self._decimals(mm, *beside, wide_mm=wide_mm)
        text = f"{self._length(mm, decimals, signed)} ± {self._length(wide_mm, decimals)}"
        return f"{text} {self.unit}" if unit else text

    @staticmethod
    def strings(numbers: Iterable[int]) -> str:
        """Return strings by their numbers: `strings 1 to 4 and 6`."""
        return strings_in_words(numbers)

    def told(self, sentence: str) -> str:
        """Return a sentence of the planner's with its lengths in the visitor's unit and its numbers as written here."""
        if not self.is_inch:
            return said_in(sentence, self._said, self.unit, self._written)
        with_pounds = PULL.sub(self._with_pounds, sentence)
        return said_in(whole_in_inches(with_pounds), self._said, self.unit, self._written)

    def message(self, message: Message) -> str:
        """Return a message in words, with lengths in the visitor's unit and days as written here."""
        values = dict(message.values)
        if "day" in values:
            values["day"] = self.day(date.fromisoformat(str(values["day"])))
        return self.told(message_words(message.model_copy(update={"values": values})))

    def reach(self, contact: str) -> str:
        """Return the address that calls or writes to a person, where `contact` is one number or one mail address."""
        text = contact.strip()
        if MAIL.fullmatch(text):
            return f"mailto:{text}"
        digits = re.sub(r"[^\d+]", "", text)
        return f"tel:{digits}" if TELEPHONE.fullmatch(text) and len(digits) >= FEWEST_DIGITS else ""

    @property
    def unit(self) -> str:
        """Return the short name of the visitor's unit of length."""
        return self.visitor.view.own_unit

    @property
    def is_inch(self) -> bool:
        """Return whether the visitor measures in inches."""
        return self.visitor.view.units == "inch"

    def _decimals(self, *mm: float, wide_mm: float = 0.0, coarse: bool = False) -> int:
        if coarse:
            return 2 if self.is_inch else 1
        return inch_decimals(*mm, spread_mm=wide_mm) if self.is_inch else 2

    def _length(self, mm: float, decimals: int, signed: bool = False) -> str:
        return self.number(mm / INCH_MM if self.is_inch else mm, decimals, signed)

    def _said(self, coarse: bool, mm: float, wide_mm: float) -> tuple[str, str]:
        decimals = self._decimals(mm, wide_mm=wide_mm, coarse=coarse)
        return self._length(mm, decimals), self._length(wide_mm, decimals)

    def _with_pounds(self, found: re.Match[str]) -> str:
        return f"{found[0]} ({float(found['newton']) / POUND_FORCE_N:.1f} lb)"

    def _written(self, text: str) -> str:
        """Return a number with decimals, such as `0.3` of cents, as this visitor writes it."""
        return self.number(float(text), len(text.partition(".")[2]))

    def pull(self, newton: float, wide: float | None = None, decimals: int = 1, signed: bool = False) -> str:
        """Return a pull in N, with the ± behind it; who measures in inches reads it in pounds beside that."""
        spread = "" if wide is None else f" ± {self.number(wide, decimals)}"
        text = f"{self.number(newton, decimals, signed)}{spread} N"
        pounds = self.number(newton / POUND_FORCE_N, 1, signed)
        return f"{text} ({pounds} lb)" if self.is_inch else text

    def action(self, mm: float) -> str:
        """Return a height as `length` does; for inches with its 64ths beside it, as a rule shows it."""
        return f"{self.length(mm)} ({sixty_fourths(mm)})" if self.is_inch else self.length(mm)

    def sixty_fourths(self, mm: float) -> str:
        """Return a height in 64ths of an inch, such as `4/64`."""
        return sixty_fourths(mm)

    def rows(self, rows: Sequence[Sequence[str]]) -> Sequence[Sequence[str]]:
        """Return rows that were kept in mm as this visitor reads them."""
        return rows_in_inches(rows) if self.is_inch else rows

    def kept(self, sentence: str) -> str:
        """Return a sentence that was kept in mm as this visitor reads it."""
        return sentence_in_inches(sentence) if self.is_inch else sentence

    def gauge(self, mm: float) -> str:
        """Return a string's diameter: mm to a thousandth, inches to half a thousandth, as sets are sold."""
        if self.is_inch:
            return f"{self.number(mm / INCH_MM, 4)} in"
        return f"{self.number(mm, 3)} mm"

    def cents(self, value: float, signed: bool = True, unit: bool = True) -> str:
        """Return cents to a tenth."""
        text = self.number(value, 1, signed)
        return tr("{text} cents", text=text) if unit else text

    def day(self, at: datetime | date) -> str:
        """Return the day, as this computer's clock has it."""
        from babel.dates import format_date

        local = at.astimezone() if isinstance(at, datetime) else at
        return format_date(local, format="medium", locale=self.visitor.locale)

    def moment(self, at: datetime) -> str:
        """Return day and time, as this computer's clock has them."""
        from babel.dates import format_datetime

        return format_datetime(at.astimezone(), format="short", locale=self.visitor.locale)


def rendered(request: HTTPConnection, template: str, /, **values: Any) -> str:
    """Return a template's text for whoever asks."""
    visitor = visitor_of(request)
    root = str(request.scope.get("root_path", ""))

    common: Mapping[str, Any] = {
        "t": words,
        "show": Shown(visitor),
        "visitor": visitor,
        "root": root,
        "path": str(request.url.path),
        "example": root == "/example",
        "may_write": visitor.role != "read-only",
        "secure": request.url.scheme == "https",
    }
    return environment().get_template(template).render({**common, **values})


def page(request: Request, template: str, /, status: int = 200, **values: Any) -> HTMLResponse:
    """Return a page, or a part of one, for whoever asks."""
    return HTMLResponse(rendered(request, template, **values), status_code=status)
