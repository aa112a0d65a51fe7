"""Sizes for wished tensions: from what the trade sells, or from what lies on the shop's own shelf."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import String
from breakangle.model.measure import parse_length
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import without_marks
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.string_constants import string_constants
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.gauges import usual_diameters_mm
from breakangle.reference.strings import make, makes
from breakangle.services.strings.string_set import SAFE_SHARE, strings

OTHERS = 2
WISHED_RANGE_N = (5.0, 500.0)  # pulls of single strings; common practice, no source
BALANCE_RANGE_RATIO = (0.2, 5.0)  # chosen


@dataclass(frozen=True)
class Candidate:
    """A string that could be bought or taken: make, size, and what was measured of it.

    `words` and `held` are those of the shelf; None where it is from the trade's usual sizes.
    """

    make: str
    diameter_mm: float
    core_mm: float | None = None
    wrap: str | None = None
    unit_mass_g_per_m: float | None = None
    words: str | None = None
    held: int | None = None
    stock_id: str | None = None


@dataclass(frozen=True)
class Option:
    """A candidate in its place: its pull in N, how far that is off the wish (ratio), its share of breaking."""

    candidate: Candidate
    tension_n: Known
    off_ratio: float
    most_breaking_share: float


@dataclass(frozen=True)
class GaugeChoice:
    """For one string: the pull wished for in N, the best option, and the next ones. None: nothing fits."""

    string: int
    note: str
    now: Candidate
    now_tension_n: Known
    wished_n: float
    best: Option | None
    others: tuple[Option, ...]
    words: str


def find_gauges(
    service: Service,
    wished_n: Mapping[int, float] | None = None,
    total_n: float | None = None,
    balance: Mapping[int, float] | None = None,
    shelf: Sequence[Candidate] | None = None,
) -> tuple[GaugeChoice, ...]:
    """Return for each string the size that comes nearest to a wished pull, in the service's tuning.

    Args:
        service: the instrument, strung as it is; each string keeps its make.
        wished_n: wished pulls in N by string number; strings not named share the rest of `total_n`.
        total_n: wished pull of all together; None: as it is now.
        balance: shares of that pull by string number, 1 for a string not named; None: all alike.
        shelf: candidates of the shop (`services.strings.stock.shelf_strings`); then strings of another make of
            the same family serve too. None: the sizes the trade usually sells.

    Raises:
        CorrectInputError: a string that is not there, or a pull or share that cannot be.
    """
    now = strings(service)
    board = board_of(service.instrument_now(), service.reference_hz)
    wishes = _wishes(now.total_n.value, len(now.strings), wished_n or {}, total_n, balance or {})
    gauge_choices = []
    for index, one in enumerate(board.instrument.in_order()):
        options = _options(board, index, wishes[one.string], shelf)
        current = Candidate(one.make, one.diameter_mm, one.core_mm, one.wrap, one.unit_mass_g_per_m)
        best = options[0] if options else None
        gauge_choices.append(
            GaugeChoice(
                one.string, one.note, current, now.strings[index].tension_n, wishes[one.string], best,
                tuple(options[1 : 1 + OTHERS]), _words(best),
            )
        )  # fmt: skip
    return tuple(gauge_choices)


def chosen(service: Service, choices: Sequence[GaugeChoice]) -> tuple[String, ...]:
    """Return the best options as new strings, for `services.swap.comparison.swap`; a string without one is left out."""
    old = {string.string: string for string in service.instrument_now().strings}
    return tuple(
        fitted(old[choice.string], choice.best.candidate) for choice in choices if choice.best is not None
    )


def fitted(old: String, candidate: Candidate) -> String:
    """Return the candidate as the string that goes in the place of `old`."""
    return without_marks(old).model_copy(
        update={
            "make": candidate.make,
            "diameter_mm": candidate.diameter_mm,
            "core_mm": candidate.core_mm,
            "wrap": candidate.wrap,
            "unit_mass_g_per_m": candidate.unit_mass_g_per_m,
            "axial_stiffness_n": None,
            "bending_stiffness_n_mm2": None,
        }
    )


def typed_set(service: Service, sizes: Sequence[str], own_unit: str = "mm") -> tuple[String, ...]:
    """Return a set from sizes as people type them, string 1 first: `.010 in`, `0.25mm`, `10 thou`.

    Each string keeps its make. A size that is the old one counts as a fresh string of the same kind.

    Raises:
        CorrectInputError: another number of sizes than of strings, or one that cannot be right.
    """
    old = service.instrument_now().in_order()
    if len(sizes) != len(old):
        raise CorrectInputError(
            tr("{sizes_count} sizes for {old_count} strings", sizes_count=len(sizes), old_count=len(old)),
            tr("{old_count} sizes, string 1 first", old_count=len(old)),
            "",
        )
    found = []
    for one, text in zip(old, sizes, strict=True):
        size = round(parse_length(text, own_unit, 0.1, 6.0).mm, 4)
        same = abs(size - one.diameter_mm) < 5e-3
        found.append(one if same else fitted(one, Candidate(one.make, size, None, one.wrap)))
    return tuple(found)


def _wishes(
    total_now_n: float,
    count: int,
    wished: Mapping[int, float],
    total_n: float | None,
    balance: Mapping[int, float],
) -> dict[int, float]:
    """Return the wished pull of every string in N."""
    for number in (*wished, *balance):
        if not 1 <= number <= count:
            raise CorrectInputError(
                tr("a wish for string {number}", number=number), tr("strings 1 to {count}", count=count)
            )
    for share in balance.values():
        low, high = BALANCE_RANGE_RATIO
        if not low <= share <= high:
            raise CorrectInputError(
                tr("a share of {share:g}", share=share), tr("from {low:g} to {high:g}", low=low, high=high)
            )
    rest = [number for number in range(1, count + 1) if number not in wished]
    left = (total_n if total_n is not None else total_now_n) - sum(wished.values())
    shares = {number: balance.get(number, 1.0) for number in rest}
    whole = sum(shares.values()) or 1.0
    wishes = {**wished, **{number: left * share / whole for number, share in shares.items()}}
    low, high = WISHED_RANGE_N
    for number, pull in wishes.items():
        if not low <= pull <= high:
            raise CorrectInputError(
                tr("a pull of {pull:g} N for string {number}", pull=pull, number=number),
                tr("from {low:g} to {high:g} N", low=low, high=high),
            )
    return wishes


def _options(board: Board, index: int, wished_n: float, shelf: Sequence[Candidate] | None) -> list[Option]:
    """Return what could go in one place, nearest to the wish first."""
    one = board.instrument.in_order()[index]
    if shelf is None:
        candidates = [Candidate(one.make, size, None, one.wrap) for size in usual_diameters_mm(one.make)]
    else:
        soft = _soft(one.make)
        candidates = [each for each in shelf if each.make in makes() and _soft(each.make) == soft]
    options = []
    for each in candidates:
        constants = string_constants(
            make=each.make, diameter_mm=each.diameter_mm, core_mm=each.core_mm, wrap=each.wrap,
            unit_mass_g_per_m=each.unit_mass_g_per_m, open_length_mm=float(board.open_length_mm[index]),
            pitch_hz=float(board.hz[index]),
        )  # fmt: skip
        pull = constants.tension_n
        options.append(
            Option(
                each, Known(pull, pull * constants.unit_mass_sd_ratio), pull / wished_n - 1.0,
                pull / constants.breaking_low_n,
            )
        )  # fmt: skip
    safe = [each for each in options if each.most_breaking_share < SAFE_SHARE]
    return sorted(safe, key=lambda each: abs(math.log1p(each.off_ratio)))


def _soft(key: str) -> bool:
    return make(key).soft


def _words(best: Option | None) -> str:
    if best is None:
        return tr("nothing there that would hold at this note")
    off = 100.0 * best.off_ratio
    near = (
        tr("as wished")
        if abs(off) < 1.0
        else tr("{off:.0f} % {above} the wish", off=abs(off), above=tr("above") if off > 0 else tr("below"))
    )
    shelf = (
        tr(
            ", {candidate_words}: {held} there",
            candidate_words=best.candidate.words,
            held=best.candidate.held,
        )
        if best.candidate.words
        else ""
    )
    return f"{near}{shelf}"
