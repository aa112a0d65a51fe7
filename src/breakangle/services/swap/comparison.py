"""The old set against a new set or tuning on this instrument, and whether it will need a set-up after."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.plan import Plan
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate, update
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.reading_state import read_in_visit
from breakangle.planning.estimate.target_state import Sight, sight_of
from breakangle.planning.kinds.adjustments.restring import NutSlotWidth, Restring
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import reading_kind, target_kind
from breakangle.planning.kinds.restrung import put_on
from breakangle.planning.plan import plan
from breakangle.planning.state.floating_bridge import FloatingBalance, FloatingBridge, floating_balance
from breakangle.planning.state.uncertain_value import Known
from breakangle.planning.swap.forecast import Swapped, strung_with, swapped
from breakangle.services.service_files.compare import taken_in_words
from breakangle.services.service_files.service import estimate_service, for_hand, some_instrument_fits
from breakangle.services.strings.string_set import SetFigures, strings
from breakangle.services.swap.cautions import INSTEAD, SwapCaution, refused, swap_cautions, without_steps
from breakangle.services.swap.results import (
    SURE,
    UNLIKELY,
    Answer,
    SlotFit,
    SwapFigure,
    SwapString,
    cuts_wait,
    reasons,
    sentence,
    slot_fits,
)
from breakangle.services.swap.results import notes as notes_of

Array = NDArray[np.float64]
DRAWS, SEED = 4000, 7  # chosen: a chance of a half is told to 0.8 of a hundredth


@dataclass(frozen=True)
class Swap:
    """What a swap does. `answer`: will it need a set-up after; `chance` that it will; `reasons` in words.

    `cautions`: what speaks against it, to be said before anything else; where one refuses it, the plan has no steps.
    `chance_inside_leaves`: that a figure which is inside its tolerance now will not be. `plan` is what would
    be done if the instrument then reads as predicted, `cuts_wait` what must be read before anything is cut;
    `predicted` is the predicted state, `service` the service with the swap in its work, as it would be kept.
    """

    cautions: tuple[SwapCaution, ...]
    old: SetFigures
    new: SetFigures
    pull_change_n: Known
    figures: tuple[SwapFigure, ...]
    strings: tuple[SwapString, ...]
    slots: tuple[SlotFit, ...]
    floating: FloatingBalance | None
    answer: Answer
    chance: float
    chance_inside_leaves: float
    sentence: str
    reasons: tuple[str, ...]
    plan: Plan
    cuts_wait: str
    predicted: Estimate
    service: Service
    notes: tuple[str, ...]


def swap(
    service: Service,
    new: Sequence[String] = (),
    notes: Mapping[int, str] | None = None,
    reference_hz: float | None = None,
    slots: Mapping[int, Known] | None = None,
    floating: FloatingBridge | None = None,
    hand: str | None = None,
    earlier: Sequence[Service] = (),
    without: Sequence[Adjustment] = (),
) -> Swap:
    """Return what new strings, or another tuning, change on the service's instrument.

    The prediction is for strings that have settled, at pitch, a floating bridge brought level again with its
    claw; what the wood does by itself later is not in it.

    Args:
        service: the instrument as it is now; the more was read, the surer the answer.
        new: new strings, each with its number; those not listed stay on. A string equal to the old one is a
            fresh one of the same kind and size; one that differs in its note alone is the old one, retuned.
        notes: other open notes by string number, for a new tuning.
        reference_hz: A4 of the new tuning; None: as before.
        slots: widths of nut slots in mm by string number, where measured; else taken from the old strings.
        floating: arms and springs of a floating bridge, where known; else what is usual.
        hand: house's targets for another hand than the file's.
        earlier: earlier visits of the same instrument, oldest first: what its neck does per newton is learned.
        without: what its owner declined in this visit: the plan that follows leaves it alone.

    Raises:
        CorrectInputError: nothing is changed, a string that is not there, an unknown make, wrap or note.
        ReadAgainError: readings that no instrument fits.
    """
    service = for_hand(service, hand)
    now = estimate_service(service, earlier)
    before = now.board.instrument
    _checked(service, new, notes, reference_hz, slots, len(before.strings))
    instrument = strung_with(before, new, notes)
    with some_instrument_fits():
        fresh = put_on(before, new)
        moved = swapped(now, instrument, reference_hz, slots, fresh)
        after = _done(service, before, moved, new, slots, reference_hz)
        made = plan(*_as_predicted(after, moved.after), without)
    old_set, new_set = strings(service), strings(after)
    cautions = swap_cautions(instrument, new_set)
    fits = slot_fits(moved, fresh, slots)
    balance = None
    if before.bridge.kind == "floating":
        told = floating or FloatingBridge()
        balance = floating_balance(old_set.total_n, new_set.total_n, moved.pull_change_n, told)
    figures, chance, leaves = _figures(service, moved, fits)
    answer: Answer = "yes" if chance >= SURE else "no" if chance <= UNLIKELY else "perhaps"
    if not any(figure.judged for figure in figures):
        answer = "perhaps"
    said = sentence(answer, chance, figures)
    if refused(cautions):
        said, made = tr(INSTEAD), without_steps(made)
    return Swap(
        cautions, old_set, new_set, moved.pull_change_n, figures, _strings(moved), fits, balance, answer, chance,
        leaves, said, reasons(figures, fits, balance), made, cuts_wait(made),
        moved.after, after, notes_of(figures, moved, balance),
    )  # fmt: skip


def _checked(
    service: Service,
    new: Sequence[String],
    notes: Mapping[int, str] | None,
    reference_hz: float | None,
    slots: Mapping[int, Known] | None,
    count: int,
) -> None:
    if not new and not notes and reference_hz in (None, service.reference_hz):
        raise CorrectInputError(
            tr("nothing is changed"), tr("new strings, other notes, or another A4"), tr("say what goes on")
        )
    for what, numbers in (
        (tr("new string"), [one.string for one in new]),
        (tr("new note for string"), list(notes or {})),
        (tr("slot of string"), list(slots or {})),
    ):
        for number in numbers:
            if not 1 <= number <= count:
                raise CorrectInputError(f"{what} {number}", tr("strings 1 to {count}", count=count))
    if len({one.string for one in new}) < len(new):
        raise CorrectInputError(tr("a string is listed twice"), tr("each new string once"), "")


def _done(
    service: Service,
    before: Instrument,
    moved: Swapped,
    new: Sequence[String],
    slots: Mapping[int, Known] | None,
    reference_hz: float | None,
) -> Service:
    """Return the service with the swap in its work: strings that stay on as they are stand in no list."""
    named = {one.string for one in new}
    after = moved.after.board.instrument.strings
    listed = [
        one for old, one in zip(before.strings, after, strict=True) if one.string in named or one != old
    ]
    done: dict[str, Any] = {"strings": tuple(listed or after)}
    if slots:
        done["slots"] = tuple(
            NutSlotWidth(string=string, width_mm=one.value, uncertainty_mm=max(one.uncertainty, 0.001))
            for string, one in sorted(slots.items())
        )
    update: dict[str, object] = {"work": (*service.work, Restring(**done))}
    if reference_hz is not None:
        update["reference_hz"] = reference_hz
    return service.model_copy(update=update)


def _as_predicted(after: Service, there: Estimate) -> tuple[Service, Estimate]:
    """Return service and estimate as if every target then read as predicted, with an ordinary gauge.

    The estimate is marked as a forecast: no cut rests on it.
    """
    found = sight_of(there, targets_of(after, there.board).wanted)
    stage = len(after.work)
    readings: list[Reading] = [
        Pitch(string=one + 1, fret=0, cents=0.0, after=stage) for one in range(there.board.string_count)
    ]
    for index in range(len(found.targets)):
        reading = found.reading(index)
        if isinstance(reading, Gap | Pitch):
            kind = reading_kind(reading)
            name = f"uncertainty_{'mm' if isinstance(reading, Gap) else 'cents'}"
            readings.append(reading.model_copy(update={name: kind.gauge_spread, "after": stage}))
    read = after.model_copy(update={"readings": (*after.readings, *readings)})
    return read, replace(there, forecast=True, belief=update(there.belief, readings, there.board)[0])


def _row(values: Array, spreads: Array) -> tuple[Known | None, ...]:
    pairs = zip(values, spreads, strict=True)
    return tuple(Known(float(a), float(b)) if np.isfinite(a) else None for a, b in pairs)


def _strings(moved: Swapped) -> tuple[SwapString, ...]:
    """Return every string's clearances and cents, with what changes."""
    then, was = moved.after.picture, moved.before.picture
    board = moved.after.board
    hidden = np.arange(1, board.fret_count + 1)[None, :] <= board.first[:, None]
    swap_strings = []
    parts = (
        (then.clearance_mm, was.clearance_mm, then.clearance_rows, was.clearance_rows),
        (then.cents, was.cents, then.cents_rows, was.cents_rows),
    )
    rows = []
    for value, before, rows_then, rows_was in parts:
        value, before = np.where(hidden, np.nan, value), np.where(hidden, np.nan, before)
        rows_then, rows_was = np.nan_to_num(rows_then), np.nan_to_num(rows_was)
        spread = moved.after.belief.spread(rows_then)
        change = moved.change_spread(rows_was, rows_then)
        rows.append((value, spread, value - before, change))
    for index, one in enumerate(board.instrument.in_order()):
        (gap, gap_sd, moves, moves_sd), (cents, cents_sd, turns, turns_sd) = (
            tuple(part[index] for part in row) for row in rows
        )
        swap_strings.append(
            SwapString(
                one.string, one.note, _row(gap, gap_sd), _row(moves, moves_sd), _row(cents, cents_sd),
                _row(turns, turns_sd),
            )
        )  # fmt: skip
    return tuple(swap_strings)


def _figures(
    service: Service, moved: Swapped, fits: Sequence[SlotFit]
) -> tuple[tuple[SwapFigure, ...], float, float]:
    """Return every target before and after; the chance that any judged one, or a slot, needs work; and that
    one does which is inside now.
    """
    wanted = targets_of(service, moved.before.board).wanted
    was, then = sight_of(moved.before, wanted), sight_of(moved.after, wanted)
    change = moved.change_spread(was.rows, then.rows)
    judged = was.judged & read_in_visit(
        service, was
    )  # what is usual of such an instrument is no reading of this one
    out = _outside(then, moved.change_covariance(was.rows, then.rows))
    swap_figures = []
    for index, target in enumerate(wanted):
        kind = target_kind(target)
        swap_figures.append(
            SwapFigure(
                words=tr(str(kind.role(target)[0])), taken=taken_in_words(then.reading(index)), string=target.string,
                fret=target.fret, unit=kind.unit, decimals=kind.decimals, wanted=kind.wanted(target),
                tolerance=kind.tolerance(target), before=Known(float(was.value[index]), float(was.spread[index])),
                after=Known(float(then.value[index]), float(then.spread[index])),
                change=Known(float(then.value[index] - was.value[index]), float(change[index])),
                outside_before=not bool(was.inside[index]), outside_chance=float(out[:, index].mean()),
                judged=bool(judged[index]),
            )
        )  # fmt: skip
    slots_fit = float(np.prod([1.0 - fit.binds_chance for fit in fits]))
    chances = [
        1.0 - slots_fit * (1.0 - float(out[:, which].any(axis=1).mean()))
        for which in (judged, judged & was.inside)
    ]
    order = list(dict.fromkeys((one.words, one.taken) for one in swap_figures))
    swap_figures.sort(key=lambda one: (order.index((one.words, one.taken)), -one.string))
    return tuple(swap_figures), chances[0], chances[1]


def _outside(then: Sight, covariance: Array) -> NDArray[np.bool_]:
    """Return which targets are out in each of many draws of what the swap changes, shape (draws, T).

    What was read counts as read: on arrival the plain tolerance decides, so a figure that reads inside is
    inside, and only the doubt about its change can put it out.
    """
    values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    chance = np.random.default_rng(SEED).normal(size=(DRAWS, len(values)))
    return np.asarray(np.abs(then.off + chance @ root.T) > then.tolerance)
