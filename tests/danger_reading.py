"""A reading of work by its words: what somebody who does it has to have been told of its dangers.

Neither the names of dangers nor those of cautions are looked at: from what a step says it does, with what, and on which
bridge, to the words that must stand there.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from breakangle.model.instrument import Bridge, Instrument, Rod
from breakangle.model.reading import Adjustment
from breakangle.planning.kinds.adjustments.saddle_height import SaddleHeight
from breakangle.planning.kinds.kind import AdjustmentKind
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.procedures.model import Step
from breakangle.procedures.shelf import own_procedures
from breakangle.reference.families import families, family
from breakangle.reference.routine import caution, cautions_against
from breakangle.services.making.registry import making_jobs
from breakangle.services.service_files.example import empty_service, usual_instrument


@dataclass(frozen=True)
class Work:
    """A piece of work: where it stands, what it says it does (with its tools), and what is said of its dangers."""

    place: str
    does: str
    floats: bool
    said: tuple[str, ...]


@dataclass(frozen=True)
class Rule:
    """Where the words `does` stand (and `unless` does not), on a floating bridge or not, all of `says` is read."""

    does: str
    says: tuple[str, ...]
    unless: str = r"(?!)"
    floats: bool | None = None

    def missing(self, work: Work) -> tuple[str, ...]:
        """Return what has to be said of this work and is not."""
        if not re.search(self.does, work.does) or re.search(self.unless, work.does):
            return ()
        if self.floats is not None and self.floats != work.floats:
            return ()
        said = "\n".join(work.said).lower()
        return tuple(words for words in self.says if not re.search(words, said))


BY_HAND = r"off the (saddle|bridge)|(saddle|bridge)'s crown|nut slot of string|at its own nut"
METAL = r"abrasive (block|papers)|end file|crowning file|tape and dust|take the dust off with|felt wheel|crown again"
FILES = rf"\bfile\b|chisel|fret slot saw|crown again|abrasive|polishing|nut slots it names|{BY_HAND}"
# The words of a step, and the words that somebody who does it has to have read (common practice, and the job's list).
RULES = (
    # Strings.
    Rule(
        r"\bslacken|wire cutters|\bcut each|\bstretch |\bstretch of|string winder|\bunwind|new strings|up to pitch "
        rf"together|strings at pitch|shim the neck|slide the whole|(raise|lower) the bridge|move the saddle|{BY_HAND}"
        r"|stretches of each|the (floating )?bridge's posts",
        (r"eye protection", r"slackening, cutting and stretching", r"wound basses of a nylon set"),
        unless=r"the owner|truss rod",
    ),
    Rule(
        r"(?<!at )\b(tune|retune|up to pitch|to pitch|near, then pitch|to its note)\b|new strings"
        r"|move the saddles? (of|it)|strings at pitch|stretches of each",
        (r"eyes clear of the strings",),
        unless=r"tune it lower",
    ),
    Rule(r"\bcut each|slacken every string|new strings", (r"slacken before cutting", r"whips")),
    Rule(
        r"wire cutters|\bcut each|spare end|every end|\buntie|new strings|wind it down|clamp it, wind|then wind"
        r"|fret pullers|flush cutters",
        (r"sharp", r"gather and count"),
    ),
    # Springs and bridges.
    Rule(r"(raise|lower) the saddle", (r"eye protection while slackening",), floats=True),
    Rule(
        r"floating bridge|slacken|tune|truss rod|saddle|new strings|shim",
        (r"springs of a floating bridge are under load",),
        unless=rf"nut slot|{BY_HAND}",
        floats=True,
    ),
    Rule(
        r"bridge's posts|turn the posts|(raise|lower) the saddle",
        (
            r"slacken the strings before the height of a floating bridge",
            r"plate of a floating bridge stands level",
        ),
        floats=True,
    ),
    Rule(r"truss rod|tune every|move the saddle of", (r"go round the tuning again",), floats=True),
    Rule(r"(raise|lower) the saddle|height screws|saddles' heights", (r"never force it",), floats=False),
    Rule(r"(raise|lower) the bridge", (r"slacken the strings before the bridge's wheels",)),
    Rule(r"move the saddle|move the floating bridge's saddles", (r"slacken the string before its saddle",)),
    Rule(r"if the plan has it, move the saddles", (r"slacken the string before its saddle",)),
    Rule(r"slide the whole bridge", (r"loose on the top", r"mark its place")),
    # The neck.
    Rule(
        r"\bthe rod\b|\brod's\b|rod key|truss rod",
        (r"quarter turn", r"never forced", r"stop means stop", r"slacken the strings first where the maker"),
    ),
    Rule(r"turn the rod as|(tighten|slacken|loosen) the truss rod", (r"back to pitch before relief",)),
    Rule(r"shim the neck|bolted neck out", (r"slacken all strings before the neck's screws",)),
    Rule(r"shim the neck|a reset|a glued neck", (r"glued neck is a specialist", r"steam burn")),
    Rule(
        r"loose glue|cracks, loose|a reset|old or valuable|a specialist|beyond a set-up",
        (r"valuable or old", r"specialist"),
    ),
    Rule(
        r"loose glue|a reset|shim the neck",
        (r"hide glue", r"steam burn", r"specialist's work", r"cracks in the"),
    ),
    # Glue and heat.
    Rule(
        r"glue or seat|glued back|need glue|thin glue|glue chips|line of glue",
        (r"thin glue bonds skin", r"eye protection, gloves", r"no flame", r"finish covered", r"local rules"),
    ),
    Rule(r"glue or seat", (r"loose glue, cracks in the structure", r"leave it to a specialist")),
    Rule(r"steamed or heated|before glue", (r"steam burn", r"specialist's work")),
    Rule(r"frets out: heat", (r"iron burns", r"smoke", r"no flame")),
    # What is made: its name tells the tools, as a sheet of figures does not.
    Rule(
        r"^making (nut|saddle|neck-angle)",
        (r"slackening, cutting and stretching", r"eye protection while filing", r"local rules"),
    ),
    Rule(r"^making (nut|saddle)", (r"nut, saddle, bone and shell dust", r"wet work", r"mask of class")),
    Rule(r"^making (bridge|neck-angle|refret)", (r"dust of some woods", r"mask of class", r"local rules")),
    Rule(r"^making (bridge|neck-angle|top)", (r"steam burn", r"cracks in the", r"specialist")),
    Rule(r"^making neck-angle", (r"glued neck is a specialist",)),
    Rule(r"^making refret", (r"eye protection while filing", r"hair tied back", r"steel dust", r"no flame")),
    # Edges, wheels and dust.
    Rule(FILES, (r"eye protection while filing", r"hair tied back"), unless=r"as gauges"),
    Rule(r"wheel at low speed", (r"turning wheel", r"no gloves", r"hair tied back", r"eye protection")),
    Rule(
        rf"nut file\b|fine file|paper on glass|polishing thread|nut slots it names|{BY_HAND}",
        (r"nut, saddle, bone and shell dust", r"wet work or extraction", r"mask of class", r"local rules"),
        unless=r"as gauges",
    ),
    Rule(
        rf"{METAL}|fret slot saw|flat wood|off the bridge|bridge's crown",
        (r"dust of some woods, and of metal", r"mask of class"),
    ),
    Rule(
        METAL,
        (r"steel dust shorts battery terminals",),
    ),
    Rule(
        r"abrasive papers|end file|crowning file|crown again|fret slot saw|flat wood|off the bridge|bridge's crown",
        (r"local rules",),
    ),
    Rule(
        r"nut file\b|nut slots it names|repeat until the reading|deeper by",
        (r"cannot be filed up",),
        unless=r"as g",
    ),
    Rule(r"widen the nut slot", (r"file of its own gauge",)),
    # Solvent, fire, electricity.
    Rule(
        r"\boil\b|solvent|\bcleaner\b(?! cleaner)",
        (r"air the room", r"gloves", r"hidden spot", r"no flame", r"hot iron", r"celluloid", r"local rules"),
        unless=r"no oil\.|vacuum",
    ),
    Rule(r"\boil\b", (r"set themselves alight", r"closed metal tin"), unless=r"no oil\."),
    Rule(
        r"solder|open the cover|from the mains",
        (r"unplug first", r"licensed people", r"earth fault", r"deadly charge"),
    ),
    Rule(
        r"amplifier|plug in|tap each pickup",
        (r"mains side of an amplifier", r"licensed", r"earth fault", r"stop, pull the plug"),
    ),
    Rule(r"battery", (r"batteries out", r"bridge the terminals", r"lithium")),
    Rule(
        r"soldering iron", (r"iron burns", r"smoke", r"no flame", r"until all of it is dry", r"batteries out")
    ),
    Rule(r"hot iron", (r"iron burns", r"smoke", r"no flame", r"until all of it is dry")),
    Rule(r"\bsolder\b", (r"may hold lead", r"wash your hands", r"no food")),
    Rule(r"padded", (r"mark some lacquers",)),
)


def missing(work: Work) -> set[tuple[str, str]]:
    return {(work.place, words) for rule in RULES for words in rule.missing(work)}


def of_step(name: str, step: Step) -> Work:
    does = " ".join([step.do, *step.tools]).lower()
    floats = step.when.get("bridge") == ("floating",)
    return Work(f"{name}/{step.id}", does, floats, tuple(caution(one).words for one in step.shown_cautions))


def made(kind: AdjustmentKind, instrument: Instrument) -> Iterator[Work]:
    """Yield one ordinary adjustment of a kind either way, as the plan says it."""
    only_down = kind.name in ("nut-slot", "slot-width")
    for way in (-1.0,) if only_down else (1.0, -1.0):
        for string in (1, len(instrument.strings)):
            adjustment = ordinary(kind, instrument, way, string)
            does = kind.told(adjustment, instrument).lower()
            place = f"{kind.name} on {instrument.kind}, {instrument.bridge.kind}: {does}"
            said = kind.cautions(adjustment, instrument)
            yield Work(place, does, instrument.bridge.kind == "floating", said)


def ordinary(kind: AdjustmentKind, instrument: Instrument, way: float, string: int) -> Adjustment:
    """Return one ordinary adjustment of a kind."""
    if kind.name == "saddle-height":
        return SaddleHeight(string=string, mm=way / 10)
    values = {"string": string, "strings": instrument.strings, "turns": way / 4, "mm": way / 10}
    values |= {"degrees": way / 5}
    values["frets"] = ({"fret": 9, "off_mm": (0.02,) * len(instrument.strings)},)
    if kind.name == "saddle-position":
        values["strings"] = (string,)
    return kind.model(**{key: values[key] for key in kind.model.model_fields if key in values})


def every_making_sheet() -> Iterator[Work]:
    """Yield what is made, as its sheet says it: of a flat-top whose neck came forward, so that nothing is left out."""
    flat_top = empty_service(family("steel-acoustic-guitar"), "one")
    forward = {"airspace_bass": "-2.8", "airspace_treble": "-2.4"}
    for name, job in making_jobs().items():
        sheet = job.sheet(flat_top, forward if name == "neck-angle" else None)
        does = " ".join(
            [f"making {name}", sheet.lead, *sheet.rests_on, *(one for row in sheet.facts for one in row)]
        )
        said = tuple(one.words for one in cautions_against(sheet.dangers))
        yield Work(f"making {name}", does.lower(), floats=False, said=said)


def every_plan_step() -> Iterator[Work]:
    for name in families():
        usual = usual_instrument(family(name), "one").model_copy(update={"rod": Rod()})
        floating = usual.model_copy(update={"bridge": Bridge(kind="floating")})
        for instrument in (usual, floating) if name == "electric-guitar" else (usual,):
            for kind in adjustment_kinds().values():
                yield from made(kind, instrument)


STEPS = [(name, step) for name, one in own_procedures().items() for step in one.steps]
# What reads alike is looked at once.
WORK = list(
    {
        (w.does, w.floats, w.said): w
        for w in [*(of_step(*one) for one in STEPS), *every_plan_step(), *every_making_sheet()]
    }.values()
)
