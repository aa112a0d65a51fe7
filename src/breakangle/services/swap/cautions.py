"""What speaks against a swap: strings near or over their strength, a load the instrument was not built for."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Plan
from breakangle.reference.families import families, family
from breakangle.reference.strings import make
from breakangle.services.service_files.example import empty_service
from breakangle.services.strings.string_set import SAFE_SHARE, SetFigures, StringFigures, strings

# More than this, of what such an instrument is usually strung with, is no longer a matter of taste: the next heavier
# set comes to 1.15 or so. Common practice, no source.
LOAD_RATIO = 1.25
INSTEAD = "Not as it is asked: choose other strings or notes first; no steps lead there."
NO_STEPS = "No steps are given, because strings would work beyond their strength or do not belong here."


@dataclass(frozen=True)
class SwapCaution:
    """One thing that speaks against a swap, in a sentence or two; `string` None: the whole set.

    `refuses`: it is not to be done at all, so that no plan leads to it.
    """

    words: str
    refuses: bool
    string: int | None = None


def swap_cautions(instrument: Instrument, new: SetFigures) -> tuple[SwapCaution, ...]:
    """Return what speaks against `new` strings on the instrument, what forbids it first."""
    found = [*_steel(instrument, new), *_breaking(new), *_load(instrument, new)]
    return tuple(sorted(found, key=lambda one: not one.refuses))


def refused(cautions: Sequence[SwapCaution]) -> bool:
    """Return whether any of them forbids the swap."""
    return any(one.refuses for one in cautions)


def without_steps(made: Plan) -> Plan:
    """Return the plan without its steps, and the state as it is before them."""
    update = {"verdict": "beyond-setup", "steps": (), "questions": (), "then": made.now, "notes": (NO_STEPS,)}
    return made.model_copy(update=update)


def _steel(instrument: Instrument, new: SetFigures) -> list[SwapCaution]:
    steel = [one.string for one in new.strings if not make(one.make).soft]
    if not steel or not _built_for_nylon(instrument.kind):
        return []
    which = "" if len(steel) == len(new.strings) else f" (string {', '.join(map(str, steel))})"
    words = (
        f"Steel strings{which} on an instrument built for nylon: do not. Their pull and their wire are more than its "
        "neck, top and bridge are made for."
    )
    return [SwapCaution(words, True)]


def _breaking(new: SetFigures) -> list[SwapCaution]:
    """Return the strings that would work nearer to breaking than the strings room has it safe."""
    found = []
    for one in new.strings:
        low, high = one.working_share
        if high <= SAFE_SHARE:
            continue
        share = f"{100 * low:.0f} to {100 * high:.0f} %"
        who = f"string {one.string} at {one.note} would work at {share} of what it breaks at"
        if high >= 1.0:
            words = f"Not this string at this note: {who}. {_instead(one)}"
        else:
            words = f"{who[:1].upper()}{who[1:]}: it may break on the way to pitch. {_instead(one)}"
        found.append(SwapCaution(words, high >= 1.0, one.string))
    return found


def _instead(one: StringFigures) -> str:
    """Return what to do: pull goes with the square of pitch, so a lower note tells how much is enough."""
    lower = math.ceil(6.0 * math.log2(one.working_share[1] / SAFE_SHARE))
    tune = f"Tune it {lower} semitone{'s' if lower > 1 else ''} lower or more"
    if not make(one.make).wound:
        return f"{tune}; a thinner plain one breaks at much the same note."
    return f"{tune}, or choose a thinner string."


def _load(instrument: Instrument, new: SetFigures) -> list[SwapCaution]:
    usual = _usual_pull_n(instrument.kind, len(new.strings))
    if usual is None or new.total_n.value <= LOAD_RATIO * usual:
        return []
    words = (
        f"The strings would pull {new.total_n.value:.0f} N; such an instrument is usually strung with {usual:.0f} N "
        f"({100 * new.total_n.value / usual:.0f} %). That can bend a neck for good and lift a glued bridge: "
        "choose lighter strings or a lower tuning, or ask a specialist first."
    )
    return [SwapCaution(words, False)]


@cache
def _built_for_nylon(kind: str) -> bool:
    return kind in families() and all(make(one.make).soft for one in family(kind).strings)


@cache
def _usual_pull_n(kind: str, count: int) -> float | None:
    """Return the pull in N of the family's usual set; None where it says nothing of so many strings."""
    if kind not in families() or len(family(kind).strings) != count:
        return None
    return strings(empty_service(family(kind))).total_n.value
