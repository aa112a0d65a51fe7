"""Whether the height that is wanted can be free of buzz as the owner plays, said before a plan is followed."""

import json
from dataclasses import dataclass

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr
from breakangle.planning.buzz.try_out import Wish, reads_as
from breakangle.planning.kinds.targets.gap import GapTarget, trade_name
from breakangle.planning.verdict.crowns import with_crowns_as_read
from breakangle.planning.verdict.touches import Touching, touching
from breakangle.reference.strength import STRENGTHS
from breakangle.services.plans.lowest import how_low
from breakangle.services.plans.solved_visits import Solved, solved_visit
from breakangle.services.plans.try_out import make_target
from breakangle.services.service_files.buzz import playing_of
from breakangle.services.service_files.service import service_from
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

RAISE, PLAY = "raise", "play"


@dataclass(frozen=True)
class Disagreement:
    """A wanted height that touches as the owner plays, and both ways out.

    `wish`: the lowest heights that are free of buzz at that strength, where there are any, told by `raised`; else
    `never` says why not. `lighter`: the strongest play at which the wanted height is free of buzz, told by `played`.
    """

    strength: str
    said: Message
    wish: Wish | None
    raised: Message | None
    never: Message | None
    lighter: str | None
    played: Message | None


def disagreement(shop: Shop, visit_id: str) -> Disagreement | None:
    """Return where target, buzz and strength do not agree; None where they do, or heights are still to be read.

    Raises:
        NoSuchRecordError: no such visit.
        ReadAgainError: readings that no instrument fits.
    """
    solved = solved_visit(shop, visit_id)
    wanted = tuple(one for one in solved.targets.wanted if isinstance(one, GapTarget))
    if not wanted or not _heights_known(solved, wanted):
        return None
    strength = solved.judgement.hand
    notes = _touching(solved, wanted, strength)
    if not notes.notes:
        return None
    lighter = [
        one for one in STRENGTHS[: STRENGTHS.index(strength)] if not _touching(solved, wanted, one).notes
    ]
    at = next(one for one in how_low(shop, visit_id).at if one.strength == strength)
    return Disagreement(
        strength,
        _said(notes),
        at.wish,
        _raised(at.wish, strength),
        None if at.wish is not None else _never(at.trouble, strength),
        lighter[-1] if lighter else None,
        Message(key="complaint.clean_at", values={"strength": lighter[-1]}) if lighter else None,
    )


def settle_by(shop: Shop, visit: Visit, way: str, stamp: Stamp) -> None:
    """Go one of the two ways: `raise` wants the lowest heights free of buzz, `play` wants no buzz at lighter play.

    Raises:
        CorrectInputError: no such way, or one that is not open any more.
        EditedMeanwhileError: somebody has changed the visit at the same moment.
    """
    found = disagreement(shop, visit.id)
    if found is None:
        raise CorrectInputError(tr("nothing disagrees any more"), "", tr("look at the plan as it is now"))
    if way == RAISE and found.wish is not None:
        make_target(shop, visit.id, found.wish, stamp)
        return
    if way == PLAY and found.lighter is not None:
        body = json.loads(visit.body)
        body["targets"] = (body.get("targets") or {}) | {"no_buzz_at": found.lighter}
        service_from(json.dumps(body).encode(), tr("sheet {visit_number}", visit_number=visit.number))
        shop.change(visit, stamp, body=json.dumps(body, ensure_ascii=False))
        return
    raise CorrectInputError(
        tr('"{way}" is not one of the ways', way=way[:20]),
        tr("{raise_} or {play}", raise_=RAISE, play=PLAY),
        tr("choose one that is offered"),
    )


def _heights_known(solved: Solved, wanted: tuple[GapTarget, ...]) -> bool:
    """Return whether relief and action are known wherever they are wanted of this kind of instrument."""
    judged = {
        trade_name(one)
        for one, sure in zip(solved.sight.targets, solved.sight.judged, strict=True)
        if sure and isinstance(one, GapTarget)
    }
    return {trade_name(one) for one in wanted} - {"nut clearance"} <= judged


def _touching(solved: Solved, wanted: tuple[GapTarget, ...], strength: str) -> Touching:
    """Return the notes that would touch at a strength if the instrument read as wanted."""
    picture = with_crowns_as_read(solved.service, reads_as(solved.estimate, wanted))
    return touching(picture, playing_of(solved.service, None), strength)


def _said(notes: Touching) -> Message:
    worst = notes.notes[0]
    where = tr(
        "string {string} {open}",
        string=worst.string,
        open=tr("open") if worst.stop == 0 else tr("at fret {stop}", stop=worst.stop),
    )
    values = {"strength": notes.strength, "where": where, "crown": worst.crown, "short_mm": worst.short_mm}
    about = (f"string {worst.string}", f"fret {worst.crown}")
    return Message(key="complaint.wanted_not_clean", values=values, about=about, severity="care")


def _raised(wish: Wish | None, strength: str) -> Message | None:
    if wish is None or wish.action_low_mm is None or wish.action_high_mm is None:
        return None
    values = {"strength": strength, "low_mm": wish.action_low_mm, "high_mm": wish.action_high_mm}
    return Message(key="complaint.clean_from", values=values)


def _never(trouble: str, strength: str) -> Message:
    return Message(
        key="complaint.never_clean", values={"strength": strength, "why": trouble}, severity="care"
    )
