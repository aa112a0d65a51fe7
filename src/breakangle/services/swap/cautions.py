"""What speaks against a swap: strings near or over their strength, a load the instrument was not built for."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from breakangle.model.instrument import Instrument
from breakangle.model.kind.kind_table import KindTable
from breakangle.model.plan import Note, Plan
from breakangle.model.words.speech import mark, tr, tr_n
from breakangle.reference.families import families, family_of, family_with
from breakangle.reference.strings import make
from breakangle.services.service_files.example import empty_service
from breakangle.services.strings.string_set import SAFE_SHARE, SetFigures, StringFigures, strings

# More than this, of what such an instrument is usually strung with, is no longer a matter of taste: the next heavier
# set comes to 1.15 or so. Common practice, no source.
LOAD_RATIO = 1.25
INSTEAD = mark("Not as it is asked: choose other strings or notes first; no steps lead there.")
NO_STEPS = mark("No steps are given, because strings would work beyond their strength or do not belong here.")


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
    return any(caution.refuses for caution in cautions)


def without_steps(made: Plan) -> Plan:
    """Return the plan without its steps, and the state as it is before them."""
    update = {
        "verdict": "beyond-setup",
        "steps": (),
        "questions": (),
        "then": made.now,
        "noted": (Note(key="no-steps", words=tr(NO_STEPS)),),
    }
    return made.model_copy(update=update)


def _steel(instrument: Instrument, new: SetFigures) -> list[SwapCaution]:
    steel = [string.string for string in new.strings if not make(string.make).soft]
    if not steel or not _built_for_nylon(instrument):
        return []
    which = "" if len(steel) == len(new.strings) else tr(" (string {str})", str=", ".join(map(str, steel)))
    words = tr(
        "Steel strings{which} on an instrument built for nylon: do not. Their pull and their "
        "wire are more than its neck, top and bridge are made for.",
        which=which,
    )
    return [SwapCaution(words, True)]


def _breaking(new: SetFigures) -> list[SwapCaution]:
    """Return the strings that would work nearer to breaking than the strings room has it safe."""
    found = []
    for string in new.strings:
        low, high = string.working_share
        if high <= SAFE_SHARE:
            continue
        share = tr("{low:.0f} to {high:.0f} %", low=100 * low, high=100 * high)
        who = tr(
            "string {string} at {note} would work at {share} of what it breaks at",
            string=string.string,
            note=string.note,
            share=share,
        )
        if high >= 1.0:
            words = tr("Not this string at this note: {who}. {instead}", who=who, instead=_instead(string))
        else:
            words = tr(
                "{who}{who_2}: it may break on the way to pitch. {instead}",
                who=who[:1].upper(),
                who_2=who[1:],
                instead=_instead(string),
            )
        found.append(SwapCaution(words, high >= 1.0, string.string))
    return found


def _instead(one: StringFigures) -> str:
    """Return what to do: pull goes with the square of pitch, so a lower note tells how much is enough."""
    lower = math.ceil(6.0 * math.log2(one.working_share[1] / SAFE_SHARE))
    tune = tr_n(
        "Tune it {lower} semitone lower or more",
        "Tune it {lower} semitones lower or more",
        lower,
        lower=lower,
    )
    if not make(one.make).wound:
        return tr("{tune}; a thinner plain one breaks at much the same note.", tune=tune)
    return tr("{tune}, or choose a thinner string.", tune=tune)


def _load(instrument: Instrument, new: SetFigures) -> list[SwapCaution]:
    usual = _usual_pull_n(instrument, len(new.strings))
    if usual is None or new.total_n.value <= LOAD_RATIO * usual:
        return []
    words = tr(
        "The strings would pull {total_n:.0f} N; such an instrument is usually strung with "
        "{usual:.0f} N ({total_n_2:.0f} %). That can bend a neck for good and lift a glued "
        "bridge: choose lighter strings or a lower tuning, or ask a specialist first.",
        total_n=new.total_n.value,
        usual=usual,
        total_n_2=100 * new.total_n.value / usual,
    )
    return [SwapCaution(words, False)]


def _known(instrument: Instrument) -> bool:
    return instrument.kind_table is not None or instrument.kind in families()


def _built_for_nylon(instrument: Instrument) -> bool:
    return _known(instrument) and all(make(one.make).soft for one in family_of(instrument).strings)


def _usual_pull_n(instrument: Instrument, count: int) -> float | None:
    """Return the pull in N of the family's usual set; None where it says nothing of so many strings."""
    if not _known(instrument) or len(family_of(instrument).strings) != count:
        return None
    return _pull_n(instrument.kind, instrument.kind_table)


@lru_cache(maxsize=64)
def _pull_n(kind: str, made: KindTable | None) -> float:
    return strings(empty_service(family_with(kind, made))).total_n.value
