"""A set of strings on this instrument in its tuning: pull, mass, feel, and how near it works to breaking."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import String
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.speech import mark, tr
from breakangle.physics.string.feel import pushed_tension_n
from breakangle.planning.explain.courses import crown_messages
from breakangle.planning.kinds.prior import picture_before, shared_crowns
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.effects.nut_friction import held_back, learned, tune_up
from breakangle.planning.state.string_constants import StringConstants
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.messages import words as words_of
from breakangle.reference.strings import make
from breakangle.services.strings.bend import semitone_bend

MassFrom = Literal["gauge", "printed", "weighed"]
MASS_FROM_WORDS = mark("gauge"), mark("printed"), mark("weighed")
Bent = tuple[float, float]
"""Change of pitch in cents by a bend: after tuning down to pitch, and after tuning up to it."""
MOST_BENT_CENTS = 100.0  # more has slipped and not bent; common practice, no source
BEND_FRET = 12  # common practice, no source
STRETCH_PULL_MM = 12.0  # how far aside a hand pulls a string at its middle to stretch it; common practice
PRINTED_SD_RATIO = 0.005  # strings of one printed unit mass among themselves; common practice, no source
SCALE_SD_G, RULE_SD_MM = 0.005, 0.5  # a scale that shows hundredths of a gram, a rule; common practice
# Of the lowest breaking load: as far as a string is ever to be pulled on purpose; common practice, no source.
SAFE_SHARE = 0.9


@dataclass(frozen=True)
class UnitMass:
    """Unit mass in g/m with its standard uncertainty, and where it is from."""

    g_per_m: float
    uncertainty: float
    source: MassFrom


@dataclass(frozen=True)
class StringFigures:
    """One string at pitch; every `Known` carries a standard uncertainty.

    `bend_force_n` and `bend_travel_mm` are for a semitone, bent at `bend_fret`. `working_share` and
    `stretching_share`: lowest and highest share of its breaking load at pitch, and while a hand pulls it
    `STRETCH_PULL_MM` aside at the middle. `most_pull_mm`: how far aside it may be pulled there at most.
    `over_pitch_cents`: how far above its note it would come, at least, before it breaks.
    `tension_of_mean_ratio`: its pull over the mean of the set. `held_back_cents`: the band in which friction at
    the nut may leave it after tuning.
    """

    string: int
    note: str
    make: str
    diameter_mm: float
    unit_mass_g_per_m: Known
    unit_mass_from: MassFrom
    tension_n: Known
    tension_of_mean_ratio: float
    bend_fret: int
    bend_force_n: Known
    bend_travel_mm: Known
    working_share: tuple[float, float]
    stretching_share: tuple[float, float]
    most_pull_mm: float
    over_pitch_cents: float
    held_back_cents: Known
    notes: tuple[str, ...]


@dataclass(frozen=True)
class SetFigures:
    """A set: its strings from 1 up, its whole pull and mean pull in N, and how evenly they pull.

    `spread_ratio` is the strongest string's pull over the weakest's, less 1; `steepest` names the two
    neighbours whose pulls differ most.
    """

    strings: tuple[StringFigures, ...]
    total_n: Known
    mean_n: float
    spread_ratio: float
    steepest: tuple[int, int] | None
    words: str


def printed(g_per_m: float, decimals: int = 3) -> UnitMass:
    """Return a unit mass in g/m as a maker prints it, with `decimals` digits after the point.

    Raises:
        CorrectInputError: not from 0.01 to 100 g/m.
    """
    _in_range(tr("unit mass"), g_per_m, 0.01, 100.0, "g/m")
    rounding = 10.0**-decimals / math.sqrt(12.0)
    return UnitMass(g_per_m, math.hypot(rounding, PRINTED_SD_RATIO * g_per_m), "printed")


def weighed(
    grams: float, length_mm: float, scale_g: float = SCALE_SD_G, rule_mm: float = RULE_SD_MM
) -> UnitMass:
    """Return a unit mass in g/m from a weighed length of string, its end without ball or thicker winding.

    Args:
        grams: what the scale shows.
        length_mm: length of the piece, laid straight.
        scale_g: standard uncertainty of the scale, half its step or so.
        rule_mm: standard uncertainty of the length.

    Raises:
        CorrectInputError: not from 0.001 to 200 g, or not from 50 to 5000 mm.
    """
    _in_range("weight", grams, 0.001, 200.0, "g")
    _in_range("length", length_mm, 50.0, 5000.0, "mm")
    found = grams / length_mm * 1000.0
    return UnitMass(found, found * math.hypot(scale_g / grams, rule_mm / length_mm), "weighed")


def strings(
    service: Service,
    masses: Mapping[int, UnitMass] | None = None,
    bend_fret: int = BEND_FRET,
    bent: Mapping[int, Bent] | None = None,
) -> SetFigures:
    """Return the figures of the strings now on the service's instrument, in its tuning.

    Args:
        service: the instrument with what was strung on it since; no readings are needed.
        masses: printed or weighed unit masses by string number; the rest come from gauge, or from the file.
        bend_fret: where a string is bent for its feel; a short string's is counted from its own nut.
        bent: by how many cents each string moved with a bend after it was tuned down to pitch, and after up to it.

    Raises:
        CorrectInputError: unknown make or wrap, a mass or a bend for a string that is not there, no such fret.
    """
    board = board_of(service.instrument_now(), service.reference_hz)
    known = {string.string for string in board.instrument.strings}
    for number, what in [
        *((one, tr("unit mass")) for one in masses or {}),
        *((one, "bend") for one in bent or {}),
    ]:
        if number not in known:
            raise CorrectInputError(
                tr("a {what} for string {number}", what=what, number=number),
                tr("strings 1 to {known_count}", known_count=len(known)),
            )
    _in_range(tr("the fret to bend at"), bend_fret, 1, board.fret_count, "")
    found = [_figures(board, index, (masses or {}).get(index + 1), bend_fret) for index in range(len(known))]
    for index, moved in enumerate((bent or {}).get(one.string) for one in found):
        if moved is not None:
            band = learned(found[index].held_back_cents, *moved)
            found[index] = replace(found[index], held_back_cents=band)
    shared = crown_messages(picture_before(board)) if shared_crowns(board.instrument) else ()
    return _set(found, shared)


def bent(down_cents: float, up_cents: float) -> Bent:
    """Return what a bend did to an open string's pitch in cents: tuned down to it before, and tuned up to it.

    Raises:
        CorrectInputError: more than a semitone either way.
    """
    for one in (down_cents, up_cents):
        _in_range(tr("a change by a bend"), one, -MOST_BENT_CENTS, MOST_BENT_CENTS, "cents")
    return down_cents, up_cents


def with_masses(service: Service, masses: Mapping[int, UnitMass]) -> Service:
    """Return the service with these unit masses written into its strings, to be kept in its file.

    The file holds the value; how well it is known is taken as a hundredth when the file is read again.
    """
    strung = tuple(
        string.model_copy(update={"unit_mass_g_per_m": masses[string.string].g_per_m})
        if string.string in masses
        else string
        for string in service.instrument.strings
    )
    instrument = service.instrument.model_copy(update={"strings": strung})
    return service.model_copy(update={"instrument": instrument})


def _in_range(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        given = tr("{what} is {value:g} {unit}", what=what, value=value, unit=unit).rstrip()
        allowed = tr("from {low:g} to {high:g} {unit}", low=low, high=high, unit=unit).rstrip()
        raise CorrectInputError(given, allowed)


def _mass(one: String, constants: StringConstants, given: UnitMass | None) -> UnitMass:
    if given is not None:
        return given
    source: MassFrom = "gauge" if one.unit_mass_g_per_m is None else "printed"
    value = constants.unit_mass_g_per_m
    return UnitMass(value, value * constants.unit_mass_sd_ratio, source)


def _figures(board: Board, index: int, given: UnitMass | None, bend_fret: int) -> StringFigures:
    one, constants = board.instrument.in_order()[index], board.strings[index]
    mass = _mass(one, constants, given)
    mass_sd = mass.uncertainty / mass.g_per_m
    tension = constants.tension_n * mass.g_per_m / constants.unit_mass_g_per_m
    follows = make(one.make).axial == "tension" and one.axial_stiffness_n is None
    axial = constants.axial_stiffness_n * (tension / constants.tension_n if follows else 1.0)
    length, first = float(board.open_length_mm[index]), int(board.first[index])
    fret = min(first + bend_fret, board.fret_count)
    place = float(board.along_mm[index, fret] - board.along_mm[index, first])
    travel, force = semitone_bend(tension, axial, length, place, (mass_sd, constants.axial_sd_ratio, follows))
    stretched = float(
        pushed_tension_n(
            axial_stiffness_n=axial, tension_n=tension, length_mm=length, place_mm=length / 2.0,
            sideways_mm=STRETCH_PULL_MM,
        )
    )  # fmt: skip
    strain = max(SAFE_SHARE * constants.breaking_low_n - tension, 0.0) / axial
    return StringFigures(
        string=one.string, note=one.note, make=one.make, diameter_mm=one.diameter_mm,
        unit_mass_g_per_m=Known(mass.g_per_m, mass.uncertainty), unit_mass_from=mass.source,
        tension_n=Known(tension, tension * mass_sd), tension_of_mean_ratio=1.0, bend_fret=fret,
        bend_force_n=force, bend_travel_mm=travel, working_share=_shares(tension, constants),
        stretching_share=_shares(stretched, constants),
        most_pull_mm=length / 2.0 * math.sqrt(2.0 * strain + strain**2),
        over_pitch_cents=600.0 * math.log2(constants.breaking_low_n / tension),
        held_back_cents=held_back(board)[index],
        notes=_core_taken(constants) + _mass_by_size(one, mass) + _cares(stretched, tension, constants),
    )  # fmt: skip


def _shares(pull_n: float, constants: StringConstants) -> tuple[float, float]:
    return pull_n / constants.breaking_high_n, pull_n / constants.breaking_low_n


def _core_taken(constants: StringConstants) -> tuple[str, ...]:
    core_mm = constants.guessed_core_mm
    return (
        ()
        if core_mm is None
        else (tr("its core is taken as {core_mm:.2f} mm, the usual size", core_mm=core_mm),)
    )


def _mass_by_size(one: String, mass: UnitMass) -> tuple[str, ...]:
    """Return that the unit mass of a soft string hardly follows from its size: makers differ, and it thins at pitch."""
    if mass.source != "gauge" or not make(one.make).soft:
        return ()
    percent = 100.0 * mass.uncertainty / mass.g_per_m
    by_size = mark(
        "its mass goes by its size, good to about {percent:.0f} %: the maker's printed or a weighed mass is better"
    )
    return (tr(by_size, percent=percent),)


def _cares(stretched_n: float, tension_n: float, constants: StringConstants) -> tuple[str, ...]:
    if tension_n > SAFE_SHARE * constants.breaking_low_n:
        return (tr("at pitch it may work at its breaking load: a thinner string, or a lower note"),)
    if stretched_n > SAFE_SHARE * constants.breaking_low_n:
        return (tr("stretch it less far than the others: it has little left to its breaking load"),)
    return ()


def _set(found: list[StringFigures], shared: Sequence[Message]) -> SetFigures:
    pulls = [one.tension_n.value for one in found]
    total, mean = sum(pulls), sum(pulls) / len(pulls)
    doubt = math.hypot(*(one.tension_n.uncertainty for one in found))
    strung = tuple(replace(one, tension_of_mean_ratio=one.tension_n.value / mean) for one in found)
    steps = [abs(math.log(a / b)) for a, b in pairwise(pulls)]
    at = max(range(len(steps)), key=steps.__getitem__) if steps else None
    spread = max(pulls) / min(pulls) - 1.0
    low, high = (
        min(strung, key=lambda one: one.tension_n.value),
        max(strung, key=lambda one: one.tension_n.value),
    )
    words = (
        tr(
            "The strings pull {total:.0f} ± {doubt:.0f} N together. String {string} pulls most, "
            "{spread:.0f} % more than string {low_string}.",
            total=total,
            doubt=2 * doubt,
            string=high.string,
            spread=100 * spread,
            low_string=low.string,
        )
        if spread > 0.005
        else tr(
            "The strings pull {total:.0f} ± {doubt:.0f} N together, all alike.", total=total, doubt=2 * doubt
        )
    )
    up = tune_up({one.string: one.held_back_cents for one in strung})
    words = " ".join([words, *map(words_of, filter(None, (up, *shared)))])
    return SetFigures(
        strung, Known(total, doubt), mean, spread, None if at is None else (at + 1, at + 2), words
    )
