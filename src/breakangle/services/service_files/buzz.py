"""Where an instrument buzzes, how low it can go, and how hard this shop plays: what both doors call."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.buzz.buzz_map import NOT_MODELLED, BuzzMap, buzz_map
from breakangle.planning.buzz.lowest import Lowest, levelled, lowest, present, trade
from breakangle.planning.buzz.played_height import PlayedHeight, heights_from_levels, played_height
from breakangle.planning.buzz.usual_action import least_usual_mm
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.plan import plan
from breakangle.planning.verdict.crowns import with_crowns_as_read
from breakangle.planning.verdict.judgement import Judgement, judgement_of
from breakangle.planning.verdict.said import finding_messages, in_the_way, verdict_message
from breakangle.reference.messages import words
from breakangle.reference.strength import STRENGTHS, Playing, own_playing
from breakangle.reference.strength import played as played_instrument
from breakangle.services.service_files.heard_beside import Beside, heard_beside, heard_from_ratio
from breakangle.services.service_files.service import some_instrument_fits
from breakangle.services.service_files.take_level import take_level_db

# Where nothing else is said below: common practice, no source.
TRADE_RELIEF_MM = tuple(float(one) for one in np.arange(0.0, 0.51, 0.05))
WORTH_LEVELLING_MM, HAND_MM = 0.03, 0.005
Array = NDArray[np.float64]


def _silent(share: float) -> None:
    del share


def playing_of(service: Service, own: Path | None) -> Playing:
    """How this instrument is played: the shop's own file where given, else its player's strengths, else the tables."""
    one = service.instrument
    return played_instrument(one) if own is None else own_playing(own, one.kind, one.kind_table)


@dataclass(frozen=True)
class BuzzReport:
    """The map, with the state it was drawn from."""

    service: Service
    estimate: Estimate
    map: BuzzMap

    @cached_property
    def judgement(self) -> Judgement:
        """Return what the plan says of the same readings, with what was found: said beside the map."""
        return _judged(self.service, self.estimate, self.map.playing)

    @cached_property
    def heard_here(self) -> tuple[Beside, ...]:
        """Return the buzz that was heard on this instrument since its last work, beside the map."""
        return heard_beside(self.service, self.map)

    def likely(self, strength: str, share: float = 0.05) -> int:
        """How many notes that stand clear are nevertheless this likely to touch, for what is not known."""
        return sum(one.verdict == "clear" and one.probability >= share for one in self.map.at(strength))

    def faults(self, strength: str) -> list[tuple[str, int, float]]:
        """What is at fault for what is heard: kind and fret, notes it would clear, most it takes in mm."""
        found: dict[str, list[float]] = {}
        for one in self.map.heard(strength):
            name = tr("no single change") if one.cause is None else one.cause.name()
            found.setdefault(name, []).append(0.0 if one.cause is None else one.cause.change_mm)
        return sorted(((name, len(all_), max(all_)) for name, all_ in found.items()), key=lambda one: -one[1])

    def to_json(self) -> dict[str, Any]:
        """The map as plain data; NaN as null."""
        notes = [{key: _plain(value) for key, value in asdict(note).items()} for note in self.map.notes]
        for row, one in zip(notes, self.map.notes, strict=True):
            if one.cause is not None:
                row["cause"]["words"] = one.cause.sentence()
        return {
            "format": "breakangle/buzz/1",
            "instrument": self.service.instrument.name,
            "strengths_mm": {name: self.map.playing.strengths.height_mm(name) for name in self.map.strengths},
            "classes_calibrated": self.map.playing.classes.calibrated,
            "strengths_own": self.map.playing.own,
            "verdict": self.judgement.verdict,
            "judged": list(judged_words(self.judgement)),
            "not_modelled": list(map(tr, NOT_MODELLED)),
            "heard": [one.to_json() for one in self.heard_here],
            "heard_from_depth_ratio": heard_from_ratio(self.heard_here),
            "notes": notes,
        }


def buzz(
    service: Service,
    strengths: Sequence[str] = ("medium",),
    own: Path | None = None,
    progress: Callable[[float], None] = _silent,
    now: Estimate | None = None,
) -> BuzzReport:
    """Where the instrument, as read and worked on so far (`now`: the state, if known), buzzes at these strengths.

    Raises:
        CorrectInputError: a strength, kind or make that is not known.
        ChooseAnotherFileError: the shop's own file of strengths cannot be used.
    """
    how = playing_of(service, own)
    now = estimate(service) if now is None else now
    picture = with_crowns_as_read(service, now)
    return BuzzReport(
        service, now, buzz_map(picture, now.for_chances.belief, how, strengths, progress=progress)
    )


def judged_words(found: Judgement) -> tuple[str, ...]:
    """Return what stands beside every map of buzz: the plan's verdict and what was found, in words."""
    return tuple(words(one) for one in (verdict_message(found), *finding_messages(found)))


def _judged(service: Service, now: Estimate, how: Playing) -> Judgement:
    with some_instrument_fits():
        return judgement_of(service, now, plan(service, now), how)


@dataclass(frozen=True)
class LowestReport:
    """How low this neck can go at a strength: now, lowest, with crowns levelled, against relief.

    `judgement` is the plan's of the same readings: what stands in the way of going lower.
    """

    service: Service
    strength: str
    height_mm: float
    margin_mm: float
    now: Lowest
    lowest: Lowest
    levelled_frets: tuple[int, ...]
    levelled: Lowest | None
    trade: tuple[Lowest, ...]
    judgement: Judgement

    @property
    def in_the_way(self) -> tuple[str, ...]:
        """Return what is to be answered before the strings go lower, in words; empty where nothing is."""
        return tuple(words(one) for one in in_the_way(self.judgement))

    @property
    def strengths_own(self) -> bool:
        """Return whether the shop set its strengths of play by its own ear."""
        return self.judgement.played is not None and self.judgement.played.own

    @cached_property
    def least_usual_mm(self) -> Array:
        """Return the lowest action that anybody sets this kind to, mm (S,); nothing where the shop's ear decides."""
        usual = least_usual_mm(self.lowest.picture.board)
        return np.zeros_like(usual) if self.strengths_own else usual

    @property
    def to_set_mm(self) -> Array:
        """Return the action to set, mm (S,): nothing is heard, and it is no lower than anybody sets this kind."""
        return np.asarray(np.maximum(self.lowest.action_mm, self.least_usual_mm))

    @property
    def below_usual(self) -> bool:
        """Return whether nothing is heard at heights that nobody sets."""
        return bool(np.any(self.lowest.action_mm < self.least_usual_mm - HAND_MM))

    @property
    def levelling_gain_mm(self) -> float:
        """How much lower the action could go with the high crowns levelled, mm, mean over the strings."""
        if self.levelled is None:
            return 0.0
        return float(np.mean(self.lowest.action_mm - self.levelled.action_mm))

    def to_json(self) -> dict[str, Any]:
        """The report as plain data."""
        return {
            "format": "breakangle/lowest/1",
            "instrument": self.service.instrument.name,
            "strength": self.strength,
            "pluck_height_mm": self.height_mm,
            "margin_mm": self.margin_mm,
            "strengths_own": self.strengths_own,
            "verdict": self.judgement.verdict,
            "in_the_way": list(self.in_the_way),
            "now": _figures(self.now),
            "lowest": {**_figures(self.lowest), "held_up_by": [asdict(one) for one in self.lowest.limits]},
            "least_usual_action_mm": [round(float(mm), 3) for mm in self.least_usual_mm],
            "action_to_set_mm": [round(float(mm), 3) for mm in self.to_set_mm],
            "levelling": {
                "frets": list(self.levelled_frets),
                "gain_mm": round(self.levelling_gain_mm, 3),
                "lowest": None if self.levelled is None else _figures(self.levelled),
            },
            "trade": [_figures(one) for one in self.trade],
            "not_modelled": list(map(tr, NOT_MODELLED)),
        }


def lowest_setup(
    service: Service,
    strength: str = "medium",
    margin_mm: float = 0.02,
    own: Path | None = None,
    now: Estimate | None = None,
    judged: Judgement | None = None,
) -> LowestReport:
    """How low this instrument can go without a touch being heard at `strength`.

    `now`: the solved state where it is known already; else it is estimated. So with `judged`, what a plan says of it.

    Raises:
        CorrectInputError: nothing is free of buzz, or a strength, kind or make that is not known.
        ChooseAnotherFileError: the shop's own file of strengths cannot be used.
    """
    how = playing_of(service, own)
    now = estimate(service) if now is None else now
    picture = with_crowns_as_read(service, now)
    level, frets = levelled(picture)
    bends = service.instrument_now().rod.kind != "none"
    return LowestReport(
        service=service,
        strength=strength,
        height_mm=how.strengths.height_mm(strength),
        margin_mm=margin_mm,
        now=present(picture),
        lowest=lowest(picture, how, strength, margin_mm),
        levelled_frets=frets,
        levelled=lowest(level, how, strength, margin_mm) if frets else None,
        trade=trade(picture, how, strength, TRADE_RELIEF_MM, margin_mm) if bends else (),
        judgement=_judged(service, now, how) if judged is None else judged,
    )


def played(
    service: Service,
    buzzed: Sequence[tuple[int, int]],
    clean: Sequence[tuple[int, int]],
    own: Path | None = None,
) -> PlayedHeight:
    """The pluck height that the shop's own ears tell of: which notes buzzed here, which did not.

    Raises:
        CorrectInputError: a note that this instrument does not have, or none given.
    """
    return played_height(estimate(service).picture, playing_of(service, own), buzzed, clean)


def own_heights(
    service: Service,
    found: PlayedHeight,
    strength: str,
    takes: Mapping[str, Path],
    own: Path | None = None,
) -> dict[str, float | str]:
    """The row of a table of strengths: `strength` as it was played, the others by how loud their takes are.

    A strength without a take keeps its ratio to `strength` in the table used so far.

    Raises:
        ChooseAnotherFileError, ReadAgainError: a take that tells nothing.
        CorrectInputError: the known strength has no take, or louder is not harder.
    """
    before = playing_of(service, own).strengths
    scale = found.middle_mm / before.height_mm(strength)
    heights = {name: before.height_mm(name) * scale for name in STRENGTHS}
    if takes:
        levels = {name: take_level_db(path) for name, path in takes.items()}
        heights |= heights_from_levels(found.middle_mm, strength, levels)
    if not heights["light"] < heights["medium"] < heights["heavy"]:
        told = ", ".join(f"{tr(name)} {mm:.2f} mm" for name, mm in heights.items())
        given, possible = tr("the takes make {told}", told=told), tr("light below medium below heavy")
        raise CorrectInputError(given, possible, tr("record them again"))
    row: dict[str, float | str] = {f"{name}_mm": mm for name, mm in heights.items()}
    return row | {
        "pluck_from_saddle_mm": before.pluck_from_saddle_mm,
        "release": before.release,
        "source": tr("the shop's own ears"),
    }


def _figures(one: Lowest) -> dict[str, Any]:
    return {
        "relief_mm": round(one.relief_mm, 3),
        "action_mm": [round(float(mm), 3) for mm in one.action_mm],
        "nut_clearance_mm": [round(float(mm), 3) for mm in one.nut_mm],
    }


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return None if np.isnan(value) else round(value, 5)
    return value
