"""What a build measures against its design: its first visit's figures, and the dimension that likely moved."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from breakangle.documents.renderers.page import Letterhead, Page, Paragraph, Table
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.reading_state import roles_read
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.state.board import board_of
from breakangle.planning.state.uncertain_value import Known
from breakangle.services.design.moved_dimension import Explained, moved_dimensions
from breakangle.services.making.kinds import mm
from breakangle.services.service_files.service import estimate_service, some_instrument_fits

SURE_SPREADS = 1.959964  # spreads of a normal that hold 95 % of it; exact
LIKELY = 0.5  # derived: likelier than all others together


@dataclass(frozen=True)
class Figure:
    """One figure: what the trade calls it, its string, designed, measured, and one standard uncertainty; its unit."""

    name: str
    string: int
    designed: float
    measured: float
    spread: float
    tolerance: float
    unit: str

    @property
    def off(self) -> float:
        """Return how far it is from its design."""
        return self.measured - self.designed

    @property
    def as_designed(self) -> bool:
        """Return whether it is inside its tolerance."""
        return abs(self.off) <= self.tolerance


@dataclass(frozen=True)
class Measured:
    """A build's first visit against its design: the figures that were read, and what moved; None where none did."""

    figures: tuple[Figure, ...]
    moved: Explained | None

    def to_json(self) -> dict[str, Any]:
        """Return it as plain data (breakangle/built/1)."""
        moved = [] if self.moved is None else self.moved.moved
        return {
            "format": "breakangle/built/1",
            "figures": [
                {
                    "figure": one.name, "string": one.string, "unit": one.unit, "designed": round(one.designed, 3),
                    "measured": round(one.measured, 3), "uncertainty": round(one.spread, 3),
                    "as_designed": one.as_designed,
                }
                for one in self.figures
            ],
            "moved": [{"dimension": one.dimension, "by": round(one.amount.value, 3), "chance": round(one.chance, 3)}
                      for one in moved],
        }  # fmt: skip


def measured_against(design: Service, visit: Service) -> Measured:
    """Return what the build's first visit found, against its design; what was adjusted since does not count.

    Raises:
        CorrectInputError: another instrument than was designed, or nothing that was read.
        ReadAgainError: readings that no instrument fits.
    """
    one, other = design.instrument, visit.instrument
    if (one.frets, len(one.strings)) != (other.frets, len(other.strings)):
        raise CorrectInputError(
            tr("{frets} frets and {strings} strings", frets=other.frets, strings=len(other.strings)),
            tr("{frets} frets and {strings} strings, as designed", frets=one.frets, strings=len(one.strings)),
            "",
        )
    found = visit.model_copy(
        update={"work": (), "readings": tuple(each for each in visit.readings if each.after == 0)}
    )
    read = {role for each in found.readings for role in roles_read(each)}
    board = board_of(one, design.reference_hz)
    targets = [each for each in targets_of(design, board).wanted if target_kind(each).role(each) in read]
    if not targets:
        raise CorrectInputError(
            tr("nothing was read that the design has a figure for"), tr("relief, action or nut clearance"), ""
        )
    with some_instrument_fits():
        sight = sight_of(estimate_service(found), targets)
    figures = tuple(
        Figure(
            str(target_kind(each).role(each)[0]), each.string, target_kind(each).wanted(each), float(sight.value[at]),
            float(sight.spread[at]), float(sight.tolerance[at]), target_kind(each).unit,
        )
        for at, each in enumerate(targets)
    )  # fmt: skip
    return Measured(figures, _moved(design, figures))


def _moved(design: Service, figures: tuple[Figure, ...]) -> Explained | None:
    """Return which dimension most likely moved, where any figure is off by more than its tolerance."""
    steps = {}
    for name in dict.fromkeys(one.name for one in figures if one.unit == "mm"):
        here = [one for one in figures if one.name == name]
        spread = float(np.sqrt(np.mean([one.spread**2 for one in here]) / len(here)))
        steps[name] = Known(float(np.mean([one.off for one in here])), max(spread, 1e-3))
    if not steps or all(one.as_designed for one in figures if one.unit == "mm"):
        return None
    return moved_dimensions(design, steps)


def measured_page(measured: Measured, instrument: str) -> Page:
    """Return the comparison as plain data, for any renderer."""
    head = (tr("figure"), tr("string"), tr("designed"), tr("measured"), tr("off by"), tr("stands"))
    rows = tuple(
        (
            tr(one.name), str(one.string), _said(one.designed, one.unit), _said(one.measured, one.unit),
            _off_by(one), tr("as designed") if one.as_designed else tr("out"),
        )
        for one in by_quantity(measured.figures)
    )  # fmt: skip
    table = Table(tr("Measured against designed"), head, rows)
    return Page(tr("As built"), instrument, Letterhead(""), (), (Paragraph(lead_of(measured), "lead"), table))


def by_quantity(figures: tuple[Figure, ...]) -> list[Figure]:
    """Return the figures quantity by quantity, each from the low string to the high one."""
    names = list(dict.fromkeys(one.name for one in figures))
    return sorted(figures, key=lambda one: (names.index(one.name), -one.string))


def lead_of(measured: Measured) -> str:
    """Return in one sentence what the build came to."""
    out = [one for one in measured.figures if not one.as_designed]
    if not out:
        return tr("Built as designed: every figure that was read is inside its tolerance.")
    if measured.moved is None:
        return tr("{count} of {all} figures are out.", count=len(out), all=len(measured.figures))
    first = measured.moved.moved[0]
    unit = "°" if first.dimension.endswith("degrees") else " mm"
    amount = f"{first.amount.value:+.2f}{unit}"
    if not measured.moved.explains or first.chance < LIKELY:
        names = ", ".join(one.words for one in measured.moved.moved[:3])
        return tr(
            "{count} of {all} figures are out. No one dimension tells why for certain: measure {names}.",
            count=len(out), all=len(measured.figures), names=names,
        )  # fmt: skip
    return tr(
        "{count} of {all} figures are out, as if the {dimension} were {amount} from its design: measure that first.",
        count=len(out), all=len(measured.figures), dimension=first.words, amount=amount,
    )  # fmt: skip


def _off_by(one: Figure) -> str:
    """Return how far it is off, with its unit: a length without one would stay in mm where all others are in inches."""
    digits = 2 if one.unit == "mm" else 1  # cents are read and wanted in tenths
    off, half = f"{one.off:+.{digits}f}".replace("-", "−"), f"{SURE_SPREADS * one.spread:.{digits}f}"
    return f"{off} {tr(one.unit)} ± {half}"


def _said(value: float, unit: str) -> str:
    return mm(value) if unit == "mm" else f"{value:.1f} {tr(unit)}"
