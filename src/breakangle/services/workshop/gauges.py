"""The gauges a shop reads with: what there is to read with one, and how far apart its readings may lie."""

from typing import get_args

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.noun import Between
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.kind import ReadingKind
from breakangle.planning.kinds.registry import reading_kinds
from breakangle.services.typed_values.amounts import decimals_of
from breakangle.storage.records.records import Gauge


def gauge_kinds() -> tuple[ReadingKind, ...]:
    """Return what a gauge can read, for a choice."""
    return tuple(reading_kinds().values())


def check_gauge(quantity: str, spread: float | None) -> None:
    """Refuse a gauge whose readings would be refused; `spread` is one standard deviation in the quantity's unit.

    Raises:
        CorrectInputError: nothing that can be read, or a spread that no reading may have.
    """
    kinds = reading_kinds()
    if quantity not in kinds:
        raise CorrectInputError(
            tr('"{quantity}" is nothing to read', quantity=quantity[:60]),
            tr("one of {kinds}", kinds=", ".join(kinds)),
            tr("choose one"),
        )
    if spread is None:
        return
    limits = _limits(kinds[quantity])
    if not limits.low <= spread <= limits.high:
        shown = f"{spread:.{decimals_of(spread)}f}"
        given = tr("the ± is {spread}", spread=shown) if abs(spread) < 1e6 else tr("the ± is too large")
        raise CorrectInputError(given, limits.words(), tr("leave it empty where it is not known"))


def uncertainty_with(gauge: Gauge | None, quantity: str) -> dict[str, float]:
    """Return the uncertainty that a reading of `quantity` has from its gauge: the gauge's spread, if that is known."""
    if gauge is None or gauge.spread is None or gauge.quantity != quantity:
        return {}
    return {f"uncertainty_{reading_kinds()[quantity].unit}": gauge.spread}


def _limits(kind: ReadingKind) -> Between:
    """Return the limits that readings of this kind put to their uncertainty."""
    field = kind.model.model_fields[f"uncertainty_{kind.unit}"]
    found = [limit for one in get_args(field.annotation) for limit in getattr(one, "__metadata__", ())]
    return next(one for one in found if isinstance(one, Between))
