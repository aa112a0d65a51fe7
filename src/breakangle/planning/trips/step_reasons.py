"""Why: a sentence for each step, and what this instrument answers."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument
from breakangle.model.plan import Response
from breakangle.model.reading import Adjustment
from breakangle.model.words.said import figured
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.rod_answer import relief_per_turn_mm
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.registry import adjustment_kind, target_kind
from breakangle.planning.kinds.targets.intonation import IntonationTarget

Array = NDArray[np.float64]
# Of the most it moves: a figure moved less than this is the other side's. Common practice, no source.
OWN_SHARE = 0.6


def figure(sight: Sight, index: int) -> str:
    """Return a target as its reading states it, the number that is shown everywhere, with its unit."""
    kind = target_kind(sight.targets[index])
    return f"{figured(float(getattr(sight.reading(index), kind.unit)), kind.decimals)} {tr(kind.unit)}"


def wanted(sight: Sight, index: int) -> str:
    """Return what is wanted of a target, with its unit."""
    target = sight.targets[index]
    kind = target_kind(target)
    return f"{figured(kind.wanted(target), kind.decimals)} {tr(kind.unit)}"


def _wide(sight: Sight, index: int) -> str:
    """Return two standard uncertainties of a target, as its reading states them."""
    kind = target_kind(sight.targets[index])
    uncertainty = float(getattr(sight.reading(index), f"uncertainty_{kind.unit}"))
    return figured(2 * uncertainty, kind.decimals)


def shown_by(adjustment: Adjustment, before: Sight, moved: Array) -> list[int]:
    """Return the places of the targets a person reads after `adjustment`, what it moves most first.

    `moved` (T,): what it alone moves of every target. Figures that no reading has told of yet show nothing of the step,
    unless there are no others.
    """
    kind = adjustment_kind(adjustment)
    own = [i for i, target in enumerate(before.targets) if kind.verified_by(adjustment, target)]
    share = np.abs(moved) / before.tolerance
    return sorted([i for i in own if before.judged[i]] or own, key=lambda i: -round(float(share[i]), 6))


def reason(
    adjustment: Adjustment,
    before: Sight,
    after: Sight,
    instrument: Instrument,
    *,
    moved: Array,
    shown: Sequence[int],
    lent_to: Sequence[int] = (),
) -> str:
    """Return why it is made, in a sentence or two: what it puts right, from what to what, and what it does to the rest.

    `before` and `after` are the targets before and after all that is done in the same go; `moved` (T,) is what this
    adjustment alone moves of each, `shown` the places of those that show that it worked. `lent_to`: the places of
    targets that the rod is turned for, where relief asks for nothing.
    """
    kind = adjustment_kind(adjustment)
    if lent_to and isinstance(adjustment, RodTurn):
        return _lent(lent_to, shown, before, after, instrument)
    if not shown:
        return tr("heights, relief and saddle positions are only true near pitch.")
    wished = [i for i, one in enumerate(before.targets) if kind.verified_by(adjustment, one)]
    if (kept := _kept_where_it_was(shown, before, after, moved)) is not None:
        main = _held_against_the_rest(kept, after, moved, instrument)
        return main + _side_effect(wished, before, moved, instrument)
    worst = _most_off(shown, before, moved)
    target = before.targets[worst]
    main = tr(
        "{words} is {figure}, wanted {wanted}; it should then read {figure_2} ± {wide}.",
        words=target_kind(target).words(target, instrument),
        figure=figure(before, worst),
        wanted=wanted(before, worst),
        figure_2=figure(after, worst),
        wide=_wide(after, worst),
    )
    return main + _side_effect(wished, before, moved, instrument)


def _most_off(shown: Sequence[int], before: Sight, moved: Array) -> int:
    """Return the place that the adjustment is made for: the furthest out of those it brings nearer, and moves well.

    What is outside comes before what is inside; a post's own side before the other. Where it brings nothing nearer,
    what is moved in one go with it does: then the furthest out of all it moves well.
    """
    share = np.abs(moved) / before.tolerance
    nearer = [i for i in shown if abs(before.off[i] + moved[i]) < abs(before.off[i])]
    choice = [i for i in nearer if not before.inside[i]] or nearer or list(shown)
    most = max(share[i] for i in choice)
    own = [i for i in choice if share[i] >= OWN_SHARE * most]
    return max(own, key=lambda i: abs(before.off[i]) / before.tolerance[i])


def _kept_where_it_was(shown: Sequence[int], before: Sight, after: Sight, moved: Array) -> int | None:
    """Return the place that the adjustment keeps from what else is moved in one go with it; None: it mends one itself.

    A post is raised where the other one, lowered, takes a string with it that stood right.
    """
    if any(abs(before.off[i] + moved[i]) < abs(before.off[i]) for i in shown):
        return None
    without = after.off - moved
    kept = [i for i in shown if abs(after.off[i]) < abs(without[i])]
    out = [i for i in kept if abs(without[i]) > after.tolerance[i]] or kept
    return max(out, key=lambda i: abs(moved[i]) / after.tolerance[i], default=None)


def _held_against_the_rest(index: int, after: Sight, moved: Array, instrument: Instrument) -> str:
    """Return why a figure is brought back to where it is wanted: what the other moves alone would leave of it."""
    target = after.targets[index]
    kind = target_kind(target)
    alone = float(getattr(after.reading(index), kind.unit)) - float(moved[index])
    return tr(
        "without it {words} would come to {alone} {unit} by what else is done in this go, wanted {wanted}; it should "
        "then read {figure} ± {wide}.",
        words=kind.words(target, instrument),
        alone=figured(alone, kind.decimals),
        unit=tr(kind.unit),
        wanted=wanted(after, index),
        figure=figure(after, index),
        wide=_wide(after, index),
    )


def _lent(
    lent_to: Sequence[int], own: Sequence[int], before: Sight, after: Sight, instrument: Instrument
) -> str:
    """Return why a rod is turned although relief reads inside: for what nothing else reaches."""
    worst = max(lent_to, key=lambda i: abs(before.off[i]) / before.tolerance[i])
    near = max(own, key=lambda i: abs(after.off[i]) / after.tolerance[i])
    words = [target_kind(before.targets[i]).words(before.targets[i], instrument) for i in (worst, near)]
    return tr(
        "nothing else reaches {words}, which is {figure}, wanted {wanted}; it should "
        "then read {figure_2} ± {wide}, and {words_2}, which has room for that, {figure_3} ± "
        "{wide_2}.",
        words=words[0],
        figure=figure(before, worst),
        wanted=wanted(before, worst),
        figure_2=figure(after, worst),
        wide=_wide(after, worst),
        words_2=words[1],
        figure_3=figure(after, near),
        wide_2=_wide(after, near),
    )


def _side_effect(own: Sequence[int], before: Sight, moved: Array, instrument: Instrument) -> str:
    """Return what else this adjustment moves most, in its own tolerances, if that is worth knowing."""
    share = np.abs(moved) / before.tolerance
    share[list(own)] = 0.0
    if not len(share) or share.max() < 0.3:
        return ""
    index = int(np.argmax(share))
    kind = target_kind(before.targets[index])
    change = float(moved[index])
    amount = f"{abs(change):.{kind.decimals}f} {tr(kind.unit)}"
    if isinstance(before.targets[index], IntonationTarget):
        way = tr("sharpens") if change > 0 else tr("flattens")
        return tr(
            " It also {way} string {string} at the octave by {amount}.",
            way=way,
            string=before.targets[index].string,
            amount=amount,
        )
    way = tr("raises") if change > 0 else tr("lowers")
    return tr(
        " It also {way} {words} by {amount}.",
        way=way,
        words=kind.words(before.targets[index], instrument),
        amount=amount,
    )


def responses(now: Estimate) -> tuple[Response, ...]:
    """Return what this neck and its screws do, as known now."""
    layout, belief, found = now.picture.layout, now.belief, []
    rod = relief_per_turn_mm(now)
    if rod is not None:
        found.append(
            Response(
                name="rod_relief_mm_per_turn",
                words=tr("relief per whole turn of the rod"),
                value=round(rod[0], 3),
                uncertainty=round(rod[1], 3),
                unit="mm per turn",
            )
        )
    place = layout["saddle_response"][0]
    found.append(
        Response(
            name="saddle_mm_per_mm",
            words=tr("saddle movement per millimetre asked for"),
            value=round(float(belief.mean[place]), 3),
            uncertainty=round(float(np.sqrt(belief.covariance[place, place])), 3),
            unit="mm per mm",
        )
    )
    return tuple(found)
