"""What other strings, or another tuning, will do to the state of an instrument: with what is then still uncertain."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

from breakangle.model.instrument import Instrument, String
from breakangle.planning.estimate.batch import Carried
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.restrung import restrung
from breakangle.planning.state.board import board_of
from breakangle.planning.state.uncertain_value import Known

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Swapped:
    """The estimate before and after, and the map between: after = rows · before + noise of `variance` (N,)."""

    before: Estimate
    after: Estimate
    rows: Array
    variance: Array
    pull_change_n: Known
    sitting_mm: tuple[Known, ...]

    def change_covariance(self, rows_before: Array, rows_after: Array) -> Array:
        """Return the covariance of what changes in figures of rows (R, N) before and after, shape (R, R)."""
        both = rows_after @ self.rows - rows_before
        return np.asarray(
            both @ self.before.belief.covariance @ both.T + (rows_after * self.variance) @ rows_after.T
        )

    def change_spread(self, rows_before: Array, rows_after: Array) -> Array:
        """Return the standard uncertainty of what changes: (rows_after · after) - (rows_before · before)."""
        both = rows_after @ self.rows - rows_before
        variance = np.sum((both @ self.before.belief.covariance) * both, axis=-1)
        variance += np.sum(rows_after**2 * self.variance, axis=-1)
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))


def strung_with(
    instrument: Instrument, strings: Sequence[String], notes: Mapping[int, str] | None = None
) -> Instrument:
    """Return the instrument with `strings` in their places, and other open notes by string number."""
    fresh = {one.string: one for one in strings}
    strung = []
    for one in instrument.strings:
        now = fresh.get(one.string, one)
        note = (notes or {}).get(one.string)
        strung.append(now if note is None else now.model_copy(update={"note": note}))
    return instrument.model_copy(update={"strings": tuple(strung)})


def chance_above(value: Known, limit: float) -> float:
    """Return the probability that a figure lies above `limit`, taken as normal."""
    if value.uncertainty <= 0.0:
        return float(value.value > limit)
    return 0.5 * (1.0 + erf((value.value - limit) / (value.uncertainty * sqrt(2.0))))


def swapped(
    now: Estimate,
    instrument: Instrument,
    reference_hz: float | None = None,
    slots: Mapping[int, Known] | None = None,
    replaced: Collection[int] | None = None,
) -> Swapped:
    """Return the state once the instrument is strung and tuned as `instrument` has it.

    It is what the `restring` adjustment, once in a file, does to the state (`planning.kinds.restrung`).

    Args:
        now: the solved state with the strings that are on it.
        instrument: the same instrument, other strings or notes (`strung_with`).
        reference_hz: A4 of the new tuning; None: as before.
        slots: widths of nut slots in mm by string, where they were measured.
        replaced: numbers of the strings that are new, even where they are of the same kind and size; None:
            those that differ.

    Raises:
        CorrectInputError: a make or wrap that the tables do not know.
    """
    new = board_of(instrument, reference_hz or now.board.reference_hz)
    found = restrung(now.picture, new, replaced or (), slots)
    rows, variance = found.effect.rows, found.effect.variance
    covariance = rows @ now.belief.covariance @ rows.T + np.diag(variance)
    carried = Carried(rows, found.effect.mean - rows @ now.belief.mean, variance)
    after = replace(
        now,
        board=new,
        evidence=None if now.evidence is None else now.evidence.after(carried),
        belief=replace(now.belief, mean=found.effect.mean, covariance=0.5 * (covariance + covariance.T)),
    )
    return Swapped(now, after, rows, variance, found.pull_change_n, found.sitting_mm)
