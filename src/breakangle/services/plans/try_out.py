"""Trying out relief, heights, nut, strings, tuning and strength of play: what the board would answer, at once."""

import json
from dataclasses import dataclass
from typing import Any

from breakangle.drawings.board.board_cells import CellMap, clearance_cells, intonation_cells
from breakangle.drawings.board.board_map import board_map
from breakangle.drawings.board.chance_cells import LIKELY, chance_cells
from breakangle.drawings.elevation.elevation import elevation, strings_at_the_edges
from breakangle.drawings.look import SCREEN, Drawing, Look
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.pitch import note_of, semitones_from_a4
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.planning.buzz.try_out import Wish, as_it_is, touch_chances, wished, would_read
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.swap.forecast import strung_with, swapped
from breakangle.reference.families import family_of
from breakangle.reference.strength import played
from breakangle.services.plans.solved_visits import Solved, solved_lately, solved_visit
from breakangle.services.service_files.service import service_from
from breakangle.services.visits.entries import service_of
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

TUNINGS, SIZES = tuple(range(-5, 3)), (0.85, 0.9, 0.95, 1.0, 1.05, 1.1, 1.15)
MAPS = ("buzz", "intonation", "clearance")
AS_TRIED = mark("as tried out")


@dataclass(frozen=True)
class TryOut:
    """What the board would answer: the figures as they are and as wished, both drawings, what would touch."""

    now: Wish
    wish: Wish
    strength: str
    elevation: Drawing
    board: Drawing
    likely_count: int
    heard_count: int
    worst_cents: float
    pull_n: float
    pull_now_n: float


def try_out(
    shop: Shop,
    visit_id: str,
    wish: Wish,
    strength: str | None = None,
    semitones: int = 0,
    size_ratio: float = 1.0,
    shown: str = MAPS[0],
    look: Look = SCREEN,
    moving: bool = False,
) -> TryOut:
    """Return what the visit's instrument would answer if it read as wished; nothing is stored.

    Args:
        shop: the shop.
        visit_id: the visit.
        wish: relief, action and first-fret clearance; None: as it is.
        strength: of play: light, medium or heavy; None: what the visit is judged at.
        semitones: every string tuned so much higher (lower: negative).
        size_ratio: every string's diameters times this.
        shown: which map of the board to draw: buzz, intonation or clearance.
        look: how it is drawn.
        moving: a control is being dragged; what the visit rests on is looked at once a second.

    Raises:
        NoSuchRecordError: no such visit.
        CorrectInputError: a strength, tuning or size that there is not.
        ReadAgainError: readings that no instrument fits.
    """
    solved = solved_lately(shop, visit_id) if moving else solved_visit(shop, visit_id)
    before = solved.estimate
    strung = _strung(before, semitones, size_ratio)
    then = would_read(strung, wish)
    strength = strength or solved.targets.strength
    found = touch_chances(then, played(before.board.instrument), strength)
    if shown == "buzz":
        cells = chance_cells(found, strength)
    elif shown == "clearance":
        cells = clearance_cells(then, look.units)
    else:
        cells = _intonation(solved, then)
    edges = strings_at_the_edges(before)
    return TryOut(
        now=solved.as_it_is,
        wish=as_it_is(then),
        strength=strength,
        elevation=elevation(
            before, edges, after=then, targets=wished(then, wish), after_words=tr(AS_TRIED), look=look
        ),
        board=board_map(then.board, cells, look=look),
        likely_count=int((found.chance >= LIKELY).sum()),
        heard_count=int((found.heard >= LIKELY).sum()),
        worst_cents=_worst(then),
        pull_n=sum(one.tension_n for one in then.board.strings),
        pull_now_n=sum(one.tension_n for one in before.board.strings),
    )


def _intonation(solved: Solved, then: Estimate) -> CellMap:
    kin = family_of(then.board.instrument)
    hand = targets_of(solved.service, then.board).hand
    return intonation_cells(then, kin.tolerances.intonation_cents, kin.targets[hand].intonation_cents)


def _worst(then: Estimate) -> float:
    import numpy as np

    return float(np.nanmax(np.abs(then.picture.cents)))


def _strung(now: Estimate, semitones: int, size_ratio: float) -> Estimate:
    if semitones not in TUNINGS:
        raise CorrectInputError(
            tr("{semitones} semitones", semitones=semitones),
            tr("{tunings} to {tunings_2}", tunings=TUNINGS[0], tunings_2=TUNINGS[-1]),
            "",
        )
    if size_ratio not in SIZES:
        raise CorrectInputError(
            tr("{size_ratio:g} of the size", size_ratio=size_ratio),
            tr("one of {sizes}", sizes=", ".join(f"{one:g}" for one in SIZES)),
            "",
        )
    if semitones == 0 and size_ratio == 1.0:
        return now
    return swapped(now, _changed(now.board.instrument, semitones, size_ratio)).after


def _changed(instrument: Instrument, semitones: int, size_ratio: float) -> Instrument:
    """Return the instrument with every string so much thicker, tuned so much higher."""
    strings = []
    for one in instrument.strings:
        sizes: dict[str, Any] = {"note": note_of(semitones_from_a4(one.note) + semitones)}
        if size_ratio != 1.0:
            sizes["diameter_mm"] = round(one.diameter_mm * size_ratio, 4)
            sizes["core_mm"] = round(one.core_mm * size_ratio, 4) if one.core_mm else None
            sizes |= {"unit_mass_g_per_m": None, "axial_stiffness_n": None, "bending_stiffness_n_mm2": None}
        strings.append(one.model_copy(update=sizes))
    return strung_with(instrument, strings)


def make_target(shop: Shop, visit_id: str, wish: Wish, stamp: Stamp) -> Service:
    """Make what was tried out the visit's target, and return the visit as a service.

    Raises:
        NoSuchRecordError: no such visit.
        EditedMeanwhileError: somebody has changed the visit at the same moment.
    """
    solved = solved_visit(shop, visit_id)
    visit = shop.get(Visit, visit_id)
    body = json.loads(visit.body)
    targets = dict(body.get("targets") or {})
    ours = [one.model_dump(mode="json") for one in wished(solved.estimate, wish)]
    places = {(one["string"], one["fret"], tuple(one["held"])) for one in ours}
    others = [one for one in targets.get("wanted", ()) if _place(one) not in places]
    body["targets"] = targets | {"wanted": [*others, *ours]}
    service_from(json.dumps(body).encode(), tr("sheet {visit_number}", visit_number=visit.number))
    shop.change(visit, stamp, body=json.dumps(body, ensure_ascii=False))
    return service_of(shop, visit_id)


def _place(target: dict[str, Any]) -> tuple[Any, ...]:
    return target.get("string"), target.get("fret"), tuple(target.get("held") or ())
