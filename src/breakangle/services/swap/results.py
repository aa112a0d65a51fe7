"""What a swap tells, and in which words: figures, slots, the answer with its reasons, what it rests on."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from breakangle.model.plan import Plan
from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr, tr_n
from breakangle.planning.explain.courses import crown_messages
from breakangle.planning.explain.questions import keys_in_words
from breakangle.planning.explain.remarks import guessed_cores
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.restrung import LOOSE_MM, slot_widths
from breakangle.planning.kinds.targets.gap import trade_name
from breakangle.planning.state.floating_bridge import FloatingBalance
from breakangle.planning.state.uncertain_value import Known
from breakangle.planning.swap.forecast import Swapped, chance_above
from breakangle.reference.messages import words as words_of

Answer = Literal["yes", "no", "perhaps"]
# From and up to which chance the answer is yes, and no; common practice, no source.
SURE, UNLIKELY = 0.8, 0.2
WORTH_SAYING = 0.2  # common practice, no source


@dataclass(frozen=True)
class SwapFigure:
    """One target before and after in `unit`; `outside_chance`: that it will then be out of its tolerance.

    `judged`: read well enough before the swap to speak of it.
    """

    words: str
    taken: str
    string: int
    fret: int
    unit: str
    decimals: int
    wanted: float
    tolerance: float
    before: Known
    after: Known
    change: Known
    outside_before: bool
    outside_chance: float
    judged: bool


@dataclass(frozen=True)
class SwapString:
    """One string from fret 1 up: change of the open string's clearance (mm) and of intonation (cents).

    None at the frets before a short string's own nut. `clearance_mm`, `cents`: as they will then be.
    """

    string: int
    note: str
    clearance_mm: tuple[Known | None, ...]
    clearance_change_mm: tuple[Known | None, ...]
    cents: tuple[Known | None, ...]
    cents_change: tuple[Known | None, ...]


@dataclass(frozen=True)
class SlotFit:
    """A new string in its nut slot: width, how likely it binds or is loose, how much higher it then sits."""

    string: int
    diameter_mm: float
    former_diameter_mm: float
    width_mm: Known
    width_measured: bool
    binds_chance: float
    loose_chance: float
    sits_higher_mm: Known
    words: str

    @property
    def worth_saying(self) -> bool:
        """Return whether it is likely enough that the string binds or is loose."""
        return max(self.binds_chance, self.loose_chance) >= WORTH_SAYING


def slot_fits(
    moved: Swapped, fresh: Collection[int], told: Mapping[int, Known] | None
) -> tuple[SlotFit, ...]:
    """Return how each new string fits its slot; none where a zero fret carries the strings."""
    before, after = moved.before.board.instrument, moved.after.board.instrument
    if after.nut.kind != "nut":
        return ()
    widths = slot_widths(moved.before.board, told)
    found = []
    rows = list(enumerate(zip(before.in_order(), after.in_order(), strict=True)))
    for index, (was, one) in reversed(rows):
        if one.string not in fresh:
            continue
        width, measured = widths[index], one.string in (told or {})
        # A string as thick as the one that lay there fits as that one did.
        binds = 0.0
        if measured or one.diameter_mm > was.diameter_mm:
            binds = 1.0 - chance_above(width, one.diameter_mm)
        loose = 0.0
        if measured or one.diameter_mm < was.diameter_mm:
            loose = chance_above(width, one.diameter_mm + LOOSE_MM)
        found.append(
            SlotFit(
                one.string, one.diameter_mm, was.diameter_mm, width, measured, binds, loose,
                moved.sitting_mm[index], slot_words(binds, loose, measured),
            )
        )  # fmt: skip
    return tuple(found)


def slot_words(binds: float, loose: float, measured: bool) -> str:
    """Return in words how a string fits its slot, from the chances that it binds and that it is loose."""
    said = tr("fits")
    if binds >= WORTH_SAYING:
        said = tr("too thick for the slot") if binds >= SURE else tr("may be too thick for the slot")
    elif loose >= WORTH_SAYING:
        said = tr("loose in the slot") if loose >= SURE else tr("may be loose in the slot")
    return said if measured else tr("{said}, if it was cut for the old string", said=said)


def sentence(answer: Answer, chance: float, figures: Sequence[SwapFigure]) -> str:
    """Return the answer in a sentence, with its chance and what it rests on."""
    judged = [one for one in figures if one.judged]
    if not judged:
        return tr(
            "Perhaps: nothing was read that tells how it stands now. Read it before the strings come off."
        )
    told = {
        "yes": tr("Yes, it will need a set-up after"),
        "no": tr("No, it will most likely stay inside its tolerances"),
        "perhaps": tr("Perhaps: it may need a set-up after"),
    }[answer]
    out = sum(one.outside_before for one in judged)
    already = tr("; {out} of them are out already", out=out) if out else ""
    read = tr(
        "from {judged_count} of {figures_count} figures that were read",
        judged_count=len(judged),
        figures_count=len(figures),
    )
    return tr(
        "{told} (chance {chance:.0f} %, {read}{already}).",
        told=told,
        chance=100 * chance,
        read=read,
        already=already,
    )


def reasons(
    figures: Sequence[SwapFigure], fits: Sequence[SlotFit], balance: FloatingBalance | None
) -> tuple[str, ...]:
    """Return what may leave its tolerance, the likeliest first; then what is out already, slots, and the claw."""
    likely = [one for one in figures if one.judged and one.outside_chance >= WORTH_SAYING]
    leaving = [one for one in likely if not one.outside_before]
    said = [_leaves(one) for one in sorted(leaving, key=lambda one: -one.outside_chance)]
    out = [one for one in likely if one.outside_before]
    if out:
        names = ", ".join(tr("{words} of string {string}", words=one.words, string=one.string) for one in out)
        said.append(tr("out already, and may stay out: {names}", names=names))
    said += slots_in_words([fit for fit in fits if fit.worth_saying])
    if balance is not None:
        travel = balance.claw_travel_mm
        way = tr("tighten") if travel.value > 0 else tr("slacken")
        said.append(
            tr(
                "floating bridge: {way} the springs' claw by {travel:.1f} mm ± {uncertainty:.1f}; "
                "left alone, the saddles move by {rise_if_left_mm:+.2f} mm in height",
                way=way,
                travel=abs(travel.value),
                uncertainty=2 * travel.uncertainty,
                rise_if_left_mm=balance.rise_if_left_mm.value,
            )
        )
    return tuple(said)


def _leaves(one: SwapFigure) -> str:
    def figure(value: float) -> str:
        return f"{value:.{one.decimals}f}".replace("-", "−")

    return tr(
        "{words} of string {string}: {figure} {unit} becomes {figure_2} {unit} ± {figure_3}, "
        "wanted {figure_4} {unit} ± {figure_5} ({outside_chance:.0f} % out)",
        words=one.words,
        string=one.string,
        figure=figure(one.before.value),
        unit=one.unit,
        figure_2=figure(one.after.value),
        figure_3=figure(2 * one.after.uncertainty),
        figure_4=figure(one.wanted),
        figure_5=figure(one.tolerance),
        outside_chance=100 * one.outside_chance,
    )


def slots_in_words(fits: Sequence[SlotFit]) -> tuple[str, ...]:
    """Return how new strings fit their slots, those that fit alike together."""
    by_words: dict[str, list[int]] = {}
    for fit in fits:
        by_words.setdefault(fit.words, []).append(fit.string)
    sentences = []
    for words, numbers in by_words.items():
        who = ", ".join(map(str, numbers))
        strings = tr_n("string {numbers}", "strings {numbers}", len(numbers), numbers=who)
        sentences.append(f"{strings}: {words}")
    return tuple(sentences)


def cuts_wait(plan: Plan) -> str:
    """Return what must be read once the strings are on, and which cuts wait for it; empty where none is called for."""
    opening = [question for question in plan.questions if set(question.decides) - {"verdict"}]
    if not opening:
        return ""
    gaps = dict.fromkeys(
        trade_name(reading) for each in opening for reading in each.readings if isinstance(reading, Gap)
    )
    names: list[str] = [name for name in ("relief", "nut clearance", "action") if name in gaps]
    names += (
        ["intonation"]
        if any(isinstance(reading, Pitch) for each in opening for reading in each.readings)
        else []
    )
    names = [tr(name) for name in names]
    values = {
        "what": tr(" and ").join(filter(None, (", ".join(names[:-1]), names[-1]))),
        "cuts": keys_in_words(sorted({key for one in opening for key in one.decides if key != "verdict"})),
    }
    return words_of(Message(key="ask.held_back_forecast", values=values, severity="care"))


def notes(figures: Sequence[SwapFigure], moved: Swapped, balance: FloatingBalance | None) -> tuple[str, ...]:
    """Return what the prediction rests on, and what is not known."""
    sentences = []
    unread = sorted({one.words for one in figures if not one.judged})
    if unread:
        sentences.append(
            tr("Not judged, because it was not read well enough before: {unread}.", unread=", ".join(unread))
        )
    sentences += guessed_cores(moved.after.board)
    sentences += [words_of(one) for one in crown_messages(moved.after.picture)]
    if balance is not None and balance.assumed:
        sentences.append(tr("Assumed of the floating bridge: {assumed}.", assumed=", ".join(balance.assumed)))
    sentences.append(
        tr("For strings that have settled; wood may go on moving for days after a large change of pull.")
    )
    return tuple(sentences)
