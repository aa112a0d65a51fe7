"""What plan, map of buzz, lowest set-up and the owner's sheet say of an instrument, and where they contradict.

The rules are written from the readings and the sentences alone: nothing here asks the program what it judged.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from breakangle.cli.render.pages.buzz import lines as buzz_lines
from breakangle.cli.render.units import Units
from breakangle.cli.verbs.service_files.lowest import lines as lowest_lines
from breakangle.model.errors import CorrectInputError
from breakangle.model.plan import Plan
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.planning.estimate.target_state import place_read
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.reference.messages import words
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.service_files.buzz import BuzzReport, buzz
from breakangle.services.service_files.lowest import LowestReport, lowest_setup
from breakangle.services.service_files.service import plan_service
from breakangle.services.visits.service_files import bring_in
from breakangle.storage.records.store import Shop
from shop_fixtures.people import ADA

VERDICTS = {
    "leave": ("The plan: leave it", "What was read is inside its tolerance: leave it, unless"),
    "read-first": ("The plan: read first",),
    "adjust": ("The plan: adjust",),
    "beyond-setup": ("The plan: beyond a set-up",),
}
PROUD_MM = 0.05  # a crown this far from its line wants levelling; common practice, no source
RIGHT = ("needed nothing", "as it should be", "as they should be")
SORT = r"(relief|action|nut clearance|intonation)"
PLACES = re.compile(rf"{SORT} (?:at|of) strings? ([\d, to and]+)")


@dataclass(frozen=True)
class Said:
    """One instrument's readings, and everything that is said of it."""

    service: Service
    plan: Plan
    notes: str
    map: BuzzReport
    buzz: str
    lowest_setup: LowestReport | None
    lowest: str
    sheet: str


def said_of(service: Service, shop: Shop) -> Said:
    """Return what every door says of a service."""
    made, report = plan_service(service), buzz(service)
    try:
        low = lowest_setup(service)
    except CorrectInputError:
        low = None
    visit = bring_in(shop, service_text(service).encode(), "a file", ADA).visit
    text = sheet_file(shop, visit, form="txt", pictures=False).decode()
    notes = [*made.notes, *(words(one.message) for one in made.findings)]
    return Said(
        service=service,
        plan=made,
        notes="\n".join(notes),
        map=report,
        buzz="\n".join(buzz_lines(report)),
        lowest_setup=low,
        lowest="" if low is None else "\n".join(lowest_lines(low, Units("mm"))),
        sheet=" ".join(text.split()),
    )


def contradictions(said: Said) -> list[str]:
    """Return every pair of statements that cannot both stand, in words; empty where all say the same."""
    rules = (_one_verdict, _asked, _owner, _crowns, _unknown_or_beyond, _leave, _lying, _lower, _as_read)
    return [one for rule in rules for one in rule(said)]


def _one_verdict(said: Said) -> Iterator[str]:
    for door, text in (("buzz", said.buzz), ("lowest", said.lowest)):
        told = {name for name, heads in VERDICTS.items() if any(head in text for head in heads)}
        if text and told != {said.plan.verdict}:
            yield f"the plan says {said.plan.verdict}, {door} says {sorted(told)}"


def _asked(said: Said) -> Iterator[str]:
    """Nothing is beyond a set-up while a reading is asked for; what was just read is not asked for without a doubt."""
    plan = said.plan
    if plan.verdict == "beyond-setup" and not plan.steps and plan.questions:
        yield "beyond a set-up while a question is open"
    done = len(said.service.work)
    just_read = {place_read(one) for one in said.service.readings if one.after == done}
    if plan.read_next is not None and place_read(plan.read_next) in just_read:
        yield "one more reading would tell most where one was just taken"
    for one in plan.questions:
        told_again = one.message.key.startswith("ask.tells_most") or one.message.key == "ask.unread"
        if told_again and any(place_read(read) in just_read for read in one.readings):
            yield f"a figure just read is asked for again for no doubt: {one.message.key}"


def _owner(said: Said) -> Iterator[str]:
    heard = said.map.map.heard("medium")
    if heard and _has_heights(said.service):
        yield from (f"notes are heard, the sheet says {one}" for one in RIGHT if one in said.sheet)
    if said.plan.verdict != "leave" and "needed nothing" in said.sheet:
        yield f"the plan says {said.plan.verdict}, the sheet says it needed nothing"
    if found := re.search(r"\d+ of \d+ notes", said.sheet):
        yield f"the sheet counts on limits that nobody set by ear: {found[0]}"


def _has_heights(service: Service) -> bool:
    """Return whether relief and action were read: only then can it be told whether notes touch."""
    gaps = [one for one in service.readings if isinstance(one, Gap)]
    return any(len(one.held) > 1 for one in gaps) and any(one.fret > 3 and len(one.held) < 2 for one in gaps)


def proud_frets(service: Service) -> set[int]:
    """Return the frets whose crowns were last read proud under some string."""
    last = {(one.fret, one.string): one.mm for one in service.readings if isinstance(one, Crown)}
    return {fret for (fret, _), mm in last.items() if mm >= PROUD_MM}


def _crowns(said: Said) -> Iterator[str]:
    touched = {one.crown for one in said.map.map.touching("medium")}
    blamed = {one.cause.fret for one in said.map.map.touching("medium") if one.cause}
    for fret in proud_frets(said.service):
        if fret in touched and said.plan.verdict == "leave":
            yield f"crown {fret} was read proud and notes touch it, the plan says leave"
        if fret in touched and fret not in blamed:
            yield f"crown {fret} was read proud and notes touch it, buzz blames none of it on that"
        doors = (("plan", said.notes), ("buzz", said.buzz), ("lowest", said.lowest), ("sheet", said.sheet))
        for door, text in doors:
            if text and not re.search(rf"\bfret {fret}\b", text):
                yield f"crown {fret} was read proud, {door} does not say so"


def spoken_of(text: str) -> set[tuple[str, int]]:
    """Return the figures a text names: sort and string."""
    found = set()
    for sort, listed in PLACES.findall(text):
        for low, high in re.findall(r"(\d+)(?: to (\d+))?", listed):
            found |= {(sort, one) for one in range(int(low), int(high or low) + 1)}
    return found


def _unknown_or_beyond(said: Said) -> Iterator[str]:
    notes = said.notes.splitlines()
    beyond = spoken_of("\n".join(one.split(" would still")[0] for one in notes if one.startswith("Beyond")))
    unknown = spoken_of("\n".join(one for one in notes if one.startswith(("Not judged", "Read first"))))
    open_ways = [one for one in said.lowest.splitlines() if one.startswith(("- Not", "- Doubted"))]
    unknown |= spoken_of("\n".join(open_ways))
    if both := beyond & unknown:
        yield f"both unknown and beyond a set-up: {sorted(both)}"


def unread(service: Service) -> set[tuple[str, int]]:
    """Return the wanted figures at whose own place nobody read anything; relief counts where either edge was read."""
    gaps = {(one.string, one.fret, one.held) for one in service.readings if isinstance(one, Gap)}
    pitches = {(one.string, one.fret) for one in service.readings if isinstance(one, Pitch)}
    found = set()
    for one in service.targets.wanted if service.targets else ():
        if one.quantity == "intonation":
            if not {(one.string, one.fret), (one.string, 0)} <= pitches:  # type: ignore[attr-defined]
                found.add(("intonation", one.string))
        elif len(one.held) < 2 and (one.string, one.fret, one.held) not in gaps:  # type: ignore[attr-defined]
            found.add(("gap", one.string))
    return found


def _leave(said: Said) -> Iterator[str]:
    lacking = unread(said.service)
    if said.plan.verdict == "leave" and lacking:
        yield f"the plan says leave, nobody read {sorted(lacking)}"
    if lacking and "needed nothing" in said.sheet:
        yield f"the sheet says it needed nothing, nobody read {sorted(lacking)}"


def _lying(said: Said) -> Iterator[str]:
    last = {(one.string, one.fret, one.held): one.mm for one in said.service.readings if isinstance(one, Gap)}
    for (string, fret, _), mm in last.items():
        if mm <= 0.0:
            for door, text in (("plan", said.notes), ("buzz", said.buzz), ("lowest", said.lowest)):
                if text and not ("lies on the crown" in text and re.search(rf"strings? [^.]*{string}", text)):
                    yield f"string {string} lies on crown {fret}, {door} does not say so"
            if said.plan.verdict == "leave":
                yield f"string {string} lies on crown {fret}, the plan says leave"


def _lower(said: Said) -> Iterator[str]:
    if said.lowest_setup is None:
        return
    gain = float((said.lowest_setup.now.action_mm - said.lowest_setup.lowest.action_mm).mean())
    stands = proud_frets(said.service) or any(sort == "gap" for sort, _ in unread(said.service))
    if gain > 0.0 and stands and "Not lower before this is seen to" not in said.lowest:
        yield f"a set-up {gain:.2f} mm lower is offered, and what stands in the way is not said"


def _as_read(said: Said) -> Iterator[str]:
    read = {f"{one.mm:.2f}" for one in said.service.readings if isinstance(one, Gap)}
    for figure in re.findall(r"\((\d\.\d+)\xa0?\s?mm, where", said.sheet):
        if figure not in read:
            yield f"the sheet prints {figure} mm as read, and nobody read that"
