"""Low slots: strings lie at the nut below what clears the first fret; or a zero fret that is worn low."""

from collections.abc import Iterator, Sequence
from functools import partial
from math import erfc, sqrt

import numpy as np
from numpy.typing import NDArray

from breakangle.model.plan import Finding, Question, Where
from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.heights import full_strings
from breakangle.planning.estimate.diagnosis.pattern import Pattern, Seen, Sized, finding, unit_direction
from breakangle.planning.kinds.readings.gap import GAUGE_SPREAD_MM, Gap
from breakangle.planning.state.board import Board
from breakangle.planning.state.layout import layout_of

Array = NDArray[np.float64]
# Where nothing else is said below: common practice, no source.
USUAL_MM, MET_WITH = 0.15, 0.06  # of each string's slot; common practice, no source
NUT_HELD = 3
# A string that lies on the first crown: how far below a straight one would be, no gauge shows. Two in three
# of those met lie between nothing and an eighth of a millimetre. Common practice, no source.
RESTING_MM, RESTING_SPREAD_MM = -0.09, 0.08
# A slot with less clearance than this is low; how much lower than wanted that is, is its tolerance. Slots of one nut
# that are not low differ by so much. Common practice, no source.
CLEARS_MM, LEAST_TOLERANCE_MM, ALIKE_MM = 0.01, 0.03, 0.02
SURELY_CLEAR_MM = 0.05  # whatever the gauge; common practice, no source
# How often a slot is low, as it is weighed: more than it is met with, because it cannot be filed up again.
LIKELY = 0.15  # common practice, no source
OPEN_FROM, OPEN_TO, MOST_LOOKS = (
    0.1,
    0.9,
    3,
)  # read again while it is open, so often; common practice, no source
MOVES_IT = ("nut-slot", "slot-width", "restring", "rod", "shim")
ZERO_FRET_TOLERANCE_MM = 0.03  # below the other crowns; common practice, no source


def _causes(board: Board) -> Sequence[Cause]:
    layout = layout_of(board.string_count, board.fret_count)
    if board.instrument.nut.kind == "zero-fret":
        direction = unit_direction(layout.size, layout["nut_height"], -1.0)
        return (Cause("low-slot", direction, USUAL_MM, MET_WITH, part=tr("zero fret"), side=1),)
    return [
        Cause(
            "low-slot",
            unit_direction(layout.size, layout["nut_height"][string - 1], -1.0),
            USUAL_MM,
            MET_WITH,
            strings=(string,),
            side=1,
        )
        for string in full_strings(board)
    ]


def _found(seen: Seen) -> Iterator[Finding]:
    if seen.board.instrument.nut.kind == "zero-fret":
        yield from _zero_fret(seen)
        return
    wanted, read = _wanted(seen), _clearances(seen)
    for string, likely in _likely(wanted, read).items():
        asked = wanted[string]
        yield from finding(
            "low-slot",
            Where(strings=(string,), part="nut"),
            Sized(asked - RESTING_MM, RESTING_SPREAD_MM, likely),
            max(asked - CLEARS_MM, LEAST_TOLERANCE_MM),
            sign=1,
            values={"string": string, "mm": asked - RESTING_MM},
            rests_on=partial(tuple, read[string]),
        )


def _wanted(seen: Seen) -> dict[int, float]:
    return {one.string: float(one.mm) for one in seen.targets_named("nut clearance")}


def _clearances(seen: Seen) -> dict[int, list[Gap]]:
    """Return the readings of each string's clearance at the nut, as it now stands, without those believed to be slips.

    Tuning, a saddle or another string's slot moves nothing there.
    """
    slips, found = set(seen.evidence.slips), dict[int, list[Gap]]()
    for place, one in enumerate(seen.evidence.readings):
        at_nut = isinstance(one, Gap) and one.fret == 1 and one.held == (NUT_HELD,)
        if at_nut and place not in slips and one.after >= _moved_last(seen, one.string):
            found.setdefault(one.string, []).append(one)  # type: ignore[arg-type]
    return found


def _moved_last(seen: Seen, string: int) -> int:
    """Return after how much of the work the clearance of `string` at the nut last moved."""
    own = (None, string)
    return max(
        (
            done
            for done, one in enumerate(seen.service.work, start=1)
            if one.adjust in MOVES_IT and getattr(one, "string", None) in own
        ),
        default=0,
    )


def _likely(wanted: dict[int, float], read: dict[int, list[Gap]]) -> dict[int, float]:
    """Return how probable it is that each string's slot is low, as far as it has been read.

    Either the string rests on the crown, and its readings scatter about nothing; or its slot is like those of the other
    strings, and its readings scatter about its clearance, of which some lies below what clears. [derived]
    """
    usual = float(np.median([np.mean([one.mm for one in own]) for own in read.values()])) if read else 0.0
    found = {}
    for string, own in read.items():
        if string not in wanted:
            continue
        mm = np.array([one.mm for one in own])
        spread = np.array([one.uncertainty_mm or GAUGE_SPREAD_MM for one in own])
        like = max(usual, wanted[string])
        if mm.min() > SURELY_CLEAR_MM:
            found[string] = 0.0
            continue
        resting = _density(mm, np.diag(spread**2), 0.0)
        covariance = np.diag(spread**2) + ALIKE_MM**2
        clear = _density(mm, covariance, like)
        weight = ALIKE_MM**2 * np.linalg.solve(covariance, np.ones(len(mm)))
        middle = like + float(weight @ (mm - like))
        left = float(np.sqrt(max(ALIKE_MM**2 * (1.0 - weight.sum()), 1e-12)))
        below = 0.5 * erfc((middle - CLEARS_MM) / (left * sqrt(2.0)))
        rests = LIKELY * resting / (LIKELY * resting + (1.0 - LIKELY) * clear)
        found[string] = rests + (1.0 - rests) * below
    return found


def _density(values: Array, covariance: Array, mean: float) -> float:
    """Return the density of readings that scatter about one mean."""
    off = values - mean
    _, log_size = np.linalg.slogdet(2.0 * np.pi * covariance)
    return float(np.exp(-0.5 * (log_size + off @ np.linalg.solve(covariance, off))))


def _tells(seen: Seen) -> Iterator[Question]:
    if seen.board.instrument.nut.kind == "zero-fret":
        return  # there is no slot that could be low
    read, wanted = _clearances(seen), _wanted(seen)
    for string, likely in _likely(wanted, read).items():
        if float(np.mean([one.mm for one in read[string]])) >= wanted[string] - ALIKE_MM / 2:
            continue  # it reads what is wanted, to a hundredth, and that is not "all but nothing"
        open_to = OPEN_TO if len(read[string]) > 1 else 1.0  # nothing rests on one reading that may be a slip
        if OPEN_FROM <= likely <= open_to and len(read[string]) < MOST_LOOKS:
            yield Question(
                ask="reading",
                readings=(read[string][0],),
                message=Message(
                    key="diagnosis.low_slot_open",
                    values={"string": string, "mm": read[string][0].mm},
                    about=("low-slot", f"string {string}"),
                ),
                decides=(f"nut-slot_{string}", "verdict"),
            )


def _zero_fret(seen: Seen) -> Iterator[Finding]:
    layout = seen.picture.layout
    row = unit_direction(layout.size, layout["nut_height"], -1.0 / seen.board.string_count)
    sized = seen.row(float(seen.picture.mean @ row), row)
    yield from finding(
        "low-slot",
        Where(part=tr("zero fret")),
        sized,
        ZERO_FRET_TOLERANCE_MM,
        sign=1,
        key="low_zero_fret",
        values={"mm": sized.value},
        rests_on=partial(seen.readings_of_row, row),
    )


PATTERN = Pattern("low-slot", _causes, _found, _tells)
