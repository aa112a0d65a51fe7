"""What is asked about doubted units, and the service as it informs until that is answered."""

import re
from collections.abc import Sequence
from itertools import groupby

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Question
from breakangle.model.service import Service, Targets
from breakangle.model.words.message import Message
from breakangle.model.words.speech import mark, tr
from breakangle.model.words.unit_said import unit_open
from breakangle.planning.estimate.units_doubted.judge import ASK_FROM, Doubted, doubted_figures
from breakangle.planning.state.layout import Belief
from breakangle.reference.families import family_of

ASK = "inches"
NOTE, GAUGE = "note", "gauge"  # asked of a string by its pull
LEFT_OUT = ("inches", "typing-slip")  # what these ask about informs nothing before it is answered
_WISH = re.compile(r"targets\.wanted\[(\d+)\]")
_STRING = re.compile(r"instrument\.strings\[(\d+)\]\.diameter_mm")
UNIT_WORDS = {
    "mm": mark("millimetres"),
    "in": mark("inches"),
    "thou": mark("thousandths of an inch"),
    "64ths": mark("64ths of an inch"),
}


def units_questions(service: Service, prior: Belief, understood: str = "mm") -> tuple[Question, ...]:
    """Return a question for each unit that figures were likely meant in instead; empty where none is doubted.

    Args:
        service: the service as it stands.
        prior: what is believed of its instrument before anything is read.
        understood: the unit that bare numbers were taken in.
    """
    found = sorted(doubted_figures(service, prior, understood), key=lambda one: one.unit)
    groups = [list(group) for _, group in groupby(found, key=lambda one: one.unit)]
    return tuple(question(sorted(group, key=lambda one: -one.ratio), understood) for group in groups)


def question(doubted: Sequence[Doubted], understood: str = "mm") -> Question:
    """Return the one question about figures that were all likely meant in one other unit, the surest first."""
    first = doubted[0]
    values: dict[str, float | int | str] = {
        "words": first.figure.words[:1].upper() + first.figure.words[1:],
        "number": number_text(first, understood),
        "stands": tr(UNIT_WORDS[understood]),
        "unit": tr(UNIT_WORDS[first.unit]),
        "meant_mm": first.meant_mm,
        "likelier": tr("far likelier")
        if first.ratio >= ASK_FROM
        else tr("as likely beside the rest of the sheet"),
        "more_count": len(doubted) - 1,
    }
    about = dict.fromkeys(word for one in doubted for word in one.figure.about)
    paths = [one.figure.path for one in doubted if one.figure.reading is None]
    key = "typed.unit_of_one" if len(doubted) == 1 else "typed.unit_of_many"
    if first.slip_mm is not None:
        values["slip_mm"] = first.slip_mm
        key = key.replace("unit_of", "unit_or_slip_of")
    return Question(
        ask=ASK,
        readings=tuple(one.figure.reading for one in doubted if one.figure.reading is not None),
        message=Message(key=key, values=values, about=(*about, *paths), severity="stop"),
        decides=("verdict",),
        as_mm=first.figure.number,
        as_inches=first.meant_mm,
    )


def number_text(one: Doubted, understood: str = "mm") -> str:
    """Return the number as it was typed, as far as it is known."""
    number = one.figure.number if understood == "mm" else one.figure.number / 25.4
    return f"{number:.4f}".rstrip("0").rstrip(".")


def without_doubted(service: Service, questions: Sequence[Question]) -> Service:
    """Return the service without the figures that these questions doubt, and without those still unanswered.

    A reading is left out; a size of the instrument, which cannot be, is the family's usual one, and so is a gauge whose
    pull is doubted; a note that may be an octave off stands where its string pulls like the others.
    """
    doubted = [reading for one in questions if one.ask in LEFT_OUT for reading in one.readings]
    paths = set(sizes_asked(questions)) | _gauges_asked(service.instrument, questions)
    readings = tuple(one for one in service.readings if not unit_open(one) and one not in doubted)
    instrument = _with_notes(_with_usual(service.instrument, paths), questions)
    targets = _without_wishes(service.targets, paths)
    same = instrument is service.instrument and targets is service.targets
    if same and len(readings) == len(service.readings):
        return service
    return service.model_copy(update={"readings": readings, "instrument": instrument, "targets": targets})


def _without_wishes(targets: Targets | None, paths: set[str]) -> Targets | None:
    """Return the targets without the wishes at `paths`: the house's figures stand in their place."""
    gone = {int(found[1]) for path in paths if (found := _WISH.fullmatch(path))}
    if targets is None or not gone:
        return targets
    kept = tuple(one for at, one in enumerate(targets.wanted) if at not in gone)
    return targets.model_copy(update={"wanted": kept})


def sizes_asked(questions: Sequence[Question]) -> tuple[str, ...]:
    """Return the JSON paths of the sizes and wishes whose unit these questions ask about."""
    asked = [one for one in questions if one.ask == ASK]
    return tuple(
        about for one in asked for about in one.message.about if about.startswith(("instrument.", "targets."))
    )


def without_open(service: Service) -> Service:
    """Return the service without the figures whose unit was asked for and is not answered yet."""
    return without_doubted(service, ())


def _gauges_asked(instrument: Instrument, questions: Sequence[Question]) -> set[str]:
    """Return the JSON paths of the gauges whose pull these questions doubt."""
    values = [one.message.values for one in questions if one.ask == GAUGE]
    asked = {
        (one["string"], one["diameter_mm"]) for one in values
    }  # not a string that has been replaced since
    at = (index for index, one in enumerate(instrument.strings) if (one.string, one.diameter_mm) in asked)
    return {f"instrument.strings[{index}].diameter_mm" for index in at}


def _with_notes(instrument: Instrument, questions: Sequence[Question]) -> Instrument:
    """Return the instrument with every note that is asked about an octave away, where it pulls like the others."""
    values = [one.message.values for one in questions if one.ask == NOTE]
    others = {(one["string"], one["note"]): one["other_note"] for one in values if "other_note" in one}
    if not others:
        return instrument
    strings = tuple(
        one.model_copy(update={"note": str(others.get((one.string, one.note), one.note))})
        for one in instrument.strings
    )
    return instrument.model_copy(update={"strings": strings})


def _with_usual(instrument: Instrument, paths: set[str]) -> Instrument:
    """Return the instrument with the family's usual sizes at `paths` and wherever a string's gauge is unanswered."""
    doubted = {int(found[1]) for path in paths if (found := _STRING.fullmatch(path))}
    doubted |= {at for at, one in enumerate(instrument.strings) if unit_open(one)}
    spreads = [key for key in ("spread_nut_mm", "spread_bridge_mm") if f"instrument.{key}" in paths]
    if not doubted and not spreads:
        return instrument
    kin = family_of(instrument)
    usual = {one.string: one for one in kin.strings}
    strings = list(instrument.strings)
    for at in doubted:
        kept = usual.get(strings[at].string)
        if kept is not None:
            update = {"diameter_mm": kept.diameter_mm, "core_mm": kept.core_mm}
            strings[at] = strings[at].model_copy(update=update)
    update_sizes = {key: getattr(kin, key) for key in spreads}
    return instrument.model_copy(update={"strings": tuple(strings)} | update_sizes)
