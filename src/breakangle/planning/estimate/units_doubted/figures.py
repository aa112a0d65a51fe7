"""The lengths of a service that a person typed, and what each should be before anything is read."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.reading import Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import unit_open, unit_said
from breakangle.planning.estimate.estimate import Estimate, adjusted
from breakangle.planning.estimate.units_doubted.likelihood import Expectation
from breakangle.planning.kinds.readings.gap import Gap, place, predict
from breakangle.planning.kinds.registry import reading_kind
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.layout import Belief
from breakangle.planning.state.picture import Picture, picture_of
from breakangle.reference.families import family_of

Array = NDArray[np.float64]
# Where nothing else is said below: common practice, no source.
# Beside what the family believes: rulers, hands and other makers' figures. Common practice, no source.
HAND_SPREAD_MM = 0.08
SIZED_FROM_MM = 0.7  # a gap expected this wide is never near nothing: an action, not a relief
LEAST_SIZED_RATIO = 0.22
GAUGE_RATIO, SPREAD_RATIO, OTHER_STRINGING_RATIO = 0.18, 0.12, 0.6


@dataclass(frozen=True)
class Figure:
    """One length as it stands in the file: its number, where it stands (JSON path), and what is expected of it.

    `about` names it as a message does; `words` says it to a person; `reading` is None for a size of the instrument.
    """

    path: str
    about: tuple[str, ...]
    words: str
    number: float
    reading: Reading | None
    expected: Expectation
    said: bool
    open: bool = False
    group: int = -1
    row: int = -1


@dataclass(frozen=True)
class Stage:
    """Gaps read between two adjustments: what each should read (R,), and their covariance with the gauge's (R, R)."""

    mean: Array
    covariance: Array


def figures_of(service: Service, prior: Belief) -> tuple[list[Figure], list[Stage]]:
    """Return every length of the service with what is expected of it, and the gaps' joint expectation by stage."""
    found, stages = [], []
    now = Estimate(board_of(service.instrument, service.reference_hz), prior)
    for stage in range(len(service.work) + 1):
        here = [(at, one) for at, one in enumerate(service.readings) if one.after == stage]
        gaps = [(at, one) for at, one in here if isinstance(one, Gap)]
        if gaps:
            stages.append(_stage([one for _, one in gaps], now.board, now.belief))
            rows = zip(gaps, range(len(gaps)), strict=True)
            found += [_gap(at, one, stages[-1], (len(stages) - 1, row)) for (at, one), row in rows]
        found += [_by_itself(at, one) for at, one in here if reading_kind(one).usual_mm]
        if stage < len(service.work):
            now = adjusted(now, service.work[stage])
    found += _wishes(service, prior)
    whole = unit_said(service)
    found = [replace(one, said=one.said or whole) for one in found]
    sizes = [replace(one, said=one.said or whole) for one in instrument_figures(service.instrument)]
    return found + sizes, stages


def _wishes(service: Service, belief: Belief) -> Iterator[Figure]:
    """Yield the gaps that are wanted: a wish is near what such an instrument has."""
    wanted = service.targets.wanted if service.targets else ()
    gaps = [(at, one) for at, one in enumerate(wanted) if one.quantity == "gap"]
    if not gaps:
        return
    held = [
        Gap(string=one.string, fret=one.fret, held=one.held, mm=one.mm)  # type: ignore[attr-defined]
        for _, one in gaps
    ]
    stage = _stage(held, board_of(service.instrument, service.reference_hz), belief)
    for row, ((at, one), gap) in enumerate(zip(gaps, held, strict=True)):
        figure = _gap(at, gap, stage, (-1, row))
        words = tr("what is wanted of {figure_words}", figure_words=figure.words)
        path = f"targets.wanted[{at}]"
        yield replace(figure, path=path, words=words, reading=None, said=unit_said(one), open=unit_open(one))


def _stage(readings: Sequence[Gap], board: Board, belief: Belief) -> Stage:
    picture: Picture = picture_of(board, belief.mean)
    told = predict(readings, picture)
    covariance = told.rows @ belief.covariance @ told.rows.T
    covariance[np.diag_indices_from(covariance)] += HAND_SPREAD_MM**2
    return Stage(told.values, covariance)


def expectation(mean_mm: float, spread_mm: float) -> Expectation:
    """Return what a gap should be whose mean and spread are these, in mm."""
    if mean_mm >= SIZED_FROM_MM:
        return Expectation(mean_mm, max(spread_mm, LEAST_SIZED_RATIO * mean_mm), sized=True)
    return Expectation(max(mean_mm, 0.02), spread_mm, sized=False)


def _gap(at: int, one: Gap, stage: Stage, of: tuple[int, int]) -> Figure:
    row = of[1]
    spread = float(np.sqrt(stage.covariance[row, row]))
    return Figure(
        path=f"readings[{at}]",
        about=(f"string {one.string}", f"fret {one.fret}"),
        words=place(one),
        number=one.mm,
        reading=one,
        expected=expectation(float(stage.mean[row]), spread),
        said=unit_said(one),
        open=unit_open(one),
        group=of[0],
        row=row,
    )


def _by_itself(at: int, one: Reading) -> Figure:
    """Return a reading whose kind says what it usually is."""
    kind = reading_kind(one)
    mean_mm, spread_mm = kind.usual_mm
    sized = mean_mm >= SIZED_FROM_MM
    return Figure(
        path=f"readings[{at}]",
        about=(f"string {one.string}", f"fret {one.fret}"),
        words=tr("the {place}", place=kind.place(one)),
        number=float(one.mm),  # type: ignore[attr-defined]
        reading=one,
        expected=Expectation(mean_mm, spread_mm, sized=sized, signed=mean_mm <= 0.0),
        said=unit_said(one),
        open=unit_open(one),
    )


def instrument_figures(instrument: Instrument) -> Iterator[Figure]:
    """Yield the sizes of an instrument that are typed in a workshop's own unit: strings' gauges and spreads."""
    kin = family_of(instrument)
    usual = {one.string: one.diameter_mm for one in kin.strings}
    same = len(usual) == len(instrument.strings)
    typical = float(np.exp(np.mean(np.log(list(usual.values())))))
    for at, one in enumerate(instrument.strings):
        mean = usual[one.string] if same else typical
        ratio = GAUGE_RATIO if same else OTHER_STRINGING_RATIO
        yield Figure(
            path=f"instrument.strings[{at}].diameter_mm",
            about=(f"string {one.string}", "gauge"),
            words=tr("the gauge of string {string}", string=one.string),
            number=one.diameter_mm,
            reading=None,
            expected=Expectation(mean, ratio * mean, sized=True),
            said=unit_said(one) or unit_said(instrument),
            open=unit_open(one),
        )
    for key in ("spread_nut_mm", "spread_bridge_mm"):
        mean = float(getattr(kin, key))
        number = float(getattr(instrument, key))
        if number > 0.0 and mean > 0.0:
            yield Figure(
                path=f"instrument.{key}",
                about=(key.removesuffix("_mm").replace("_", " "),),
                words=tr(
                    "the {string}",
                    string=tr("string spread at the nut")
                    if "nut" in key
                    else tr("string spread at the bridge"),
                ),
                number=number,
                reading=None,
                expected=Expectation(mean, SPREAD_RATIO * mean, sized=True),
                said=unit_said(instrument),
            )
