"""Where an instrument buzzes, and how hard this shop plays: what both doors call."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.buzz.buzz_map import NOT_MODELLED, BuzzMap, buzz_map
from breakangle.planning.buzz.played_height import PlayedHeight, heights_from_levels, played_height
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.plan import plan
from breakangle.planning.verdict.crowns import with_crowns_as_read
from breakangle.planning.verdict.judgement import Judgement, judgement_of
from breakangle.planning.verdict.said import finding_messages, verdict_message
from breakangle.reference.messages import words
from breakangle.reference.strength import STRENGTHS, Playing, own_playing
from breakangle.reference.strength import played as played_instrument
from breakangle.services.service_files.heard_beside import Beside, heard_beside, heard_from_ratio
from breakangle.services.service_files.service import some_instrument_fits
from breakangle.services.service_files.take_level import take_level_db


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
        return judged(self.service, self.estimate, self.map.playing)

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


def judged(service: Service, now: Estimate, how: Playing) -> Judgement:
    """Return what the plan says of the same readings, played so."""
    with some_instrument_fits():
        return judgement_of(service, now, plan(service, now), how)


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


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return None if np.isnan(value) else round(value, 5)
    return value
