"""Settling strings: the stretch cycle, whether each string has settled, and how long it will likely take."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from breakangle.listening.naming.settling import TOLERANCE_CENTS, settling
from breakangle.listening.naming.stretches import Remaining, remaining_stretches
from breakangle.model.errors import CorrectInputError
from breakangle.model.pitch import cents_between
from breakangle.model.words.speech import mark, tr

STRETCH_PLACES = ("middle", mark("near the tuner"), mark("near the bridge"), "middle")
SECONDS_A_STRETCH = 25.0  # stretch, pluck, hear, retune; common practice, no source
FARTHEST_CENTS = 700.0  # a stretch that lets a string down by more has slipped it; common practice, no source


@dataclass(frozen=True)
class StringSettling:
    """One string: change of pitch over each stretch (negative is flatter), settled or not, how many more.

    `remaining` is None before the first stretch.
    """

    string: int
    drift_cents: tuple[float, ...]
    settled: bool
    remaining: Remaining | None
    words: str


@dataclass(frozen=True)
class SetSettling:
    """All strings: whether they have settled, which to stretch next, and the time it will likely take, in s.

    `low_s` and `high_s` hold 9 times in 10. None where nothing is known yet.
    """

    strings: tuple[StringSettling, ...]
    settled: bool
    next_string: int | None
    likely_s: float | None
    low_s: float | None
    high_s: float | None
    words: str


def drift_cents(before_hz: float, after_hz: float) -> float:
    """Return how far one stretch moved the pitch, in cents; negative is flatter.

    Raises:
        CorrectInputError: not two pitches of one string, within a fifth of each other.
    """
    if not (before_hz > 0.0 and after_hz > 0.0):
        raise CorrectInputError(
            tr("{before_hz:g} Hz, then {after_hz:g} Hz", before_hz=before_hz, after_hz=after_hz),
            tr("two pitches above 0 Hz"),
        )
    found = cents_between(after_hz, before_hz)
    if abs(found) > FARTHEST_CENTS:
        raise CorrectInputError(
            tr(
                "{before_hz:g} Hz, then {after_hz:g} Hz, is {found:+.0f} cents apart",
                before_hz=before_hz,
                after_hz=after_hz,
                found=found,
            ),
            tr("pitches of one string before and after a stretch"),
            tr("see that it was the same string"),
        )
    return found


def settle_string(
    string: int, drift: Sequence[float], tolerance_cents: float = TOLERANCE_CENTS
) -> StringSettling:
    """Return how a string stands after these drifts (cents over each stretch, retuned in between or not)."""
    for one in drift:
        if not abs(one) <= FARTHEST_CENTS:
            raise CorrectInputError(
                tr("a drift of {item:g} cents", item=one),
                tr("at most {farthest_cents:g} either way", farthest_cents=FARTHEST_CENTS),
            )
    heights = [0.0]
    for one in drift:
        heights.append(heights[-1] + one)
    found = settling([[2.0 ** (cents / 1200.0)] for cents in heights], tolerance_cents)
    remaining = remaining_stretches(drift, tolerance_cents) if drift else None
    return StringSettling(
        string, tuple(drift), found.settled, remaining, _words(found.settled, drift, remaining)
    )


def settle(
    drifts: Mapping[int, Sequence[float]],
    tolerance_cents: float = TOLERANCE_CENTS,
    seconds_a_stretch: float = SECONDS_A_STRETCH,
) -> SetSettling:
    """Return how all strings stand: drifts in cents by string number, an empty list for one not stretched yet.

    Raises:
        CorrectInputError: no string, or a tolerance that is none.
    """
    if not drifts:
        raise CorrectInputError(tr("no string is named"), "", tr("name the strings that are to settle"))
    if not 0.05 <= tolerance_cents <= 50.0:
        raise CorrectInputError(
            tr("a tolerance of {tolerance_cents:g} cents", tolerance_cents=tolerance_cents),
            tr("from 0.05 to 50 cents"),
        )
    strings = tuple(
        settle_string(number, drifts[number], tolerance_cents) for number in sorted(drifts, reverse=True)
    )
    open_ones = [one for one in strings if not one.settled]
    known = [one.remaining for one in open_ones if one.remaining is not None]
    times: tuple[float | None, float | None, float | None] = (None, None, None)
    if len(known) == len(open_ones):
        likely = sum(one.likely for one in known) * seconds_a_stretch
        below = sum((one.likely - one.low) ** 2 for one in known) ** 0.5 * seconds_a_stretch
        above = sum((one.high - one.likely) ** 2 for one in known) ** 0.5 * seconds_a_stretch
        times = (likely, max(likely - below, 0.0), likely + above)
    following = min(open_ones, key=lambda one: (len(one.drift_cents), -one.string)) if open_ones else None
    return SetSettling(
        strings, not open_ones, None if following is None else following.string, *times,
        _set_words(open_ones, times),
    )  # fmt: skip


def _words(settled: bool, drift: Sequence[float], remaining: Remaining | None) -> str:
    if settled:
        return "settled"
    if remaining is None:
        return tr("not stretched yet")
    span = (
        tr("{low} to {high}", low=remaining.low, high=remaining.high)
        if remaining.low < remaining.high
        else f"{remaining.high}"
    )
    return tr(
        "moved by {drift:+.1f} cents at the last stretch; likely {likely} more ({span})",
        drift=drift[-1],
        likely=remaining.likely,
        span=span,
    )


def _set_words(
    open_ones: Sequence[StringSettling], times: tuple[float | None, float | None, float | None]
) -> str:
    if not open_ones:
        return tr("Every string has settled.")
    names = ", ".join(str(one.string) for one in open_ones)
    left = (
        tr("string {names} is", names=names)
        if len(open_ones) == 1
        else tr("strings {names} are", names=names)
    )
    likely, low, high = times
    if likely is None or low is None or high is None:
        return tr(
            "Still to settle: {left} left. How long is told after the first stretch of each.", left=left
        )
    return tr(
        "Still to settle: {left} left; likely {minutes}, between {minutes_2} and {minutes_3}.",
        left=left,
        minutes=_minutes(likely),
        minutes_2=_minutes(low),
        minutes_3=_minutes(high),
    )


def _minutes(seconds: float) -> str:
    minutes = max(round(seconds / 60.0), 1) if seconds >= 45.0 else 0
    return f"{minutes} min" if minutes else tr("under a minute")
