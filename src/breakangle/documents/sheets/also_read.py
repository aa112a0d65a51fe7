"""What was read besides the boxes of a bench sheet: a table a state of the work, a row a sort of reading."""

from collections.abc import Iterable

from breakangle.documents.renderers.page import Block, Table
from breakangle.model.instrument import Instrument
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.words.said import figured
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.reading_names import sort_named
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import adjustment_kind, reading_kind


def also_read(taken: Iterable[Reading], work: tuple[Adjustment, ...], instrument: Instrument) -> list[Block]:
    """Return every reading taken, in tables: strings from the low one to the high one, readings as they were read.

    Args:
        taken: the readings, in their order.
        work: all that was done; a reading stands under the last of it before the reading.
        instrument: as it is strung.
    """
    stages: dict[int, dict[str, dict[int, list[str]]]] = {}
    for one in taken:
        sort, amount = _sort_and_amount(one)
        stages.setdefault(one.after, {}).setdefault(sort, {}).setdefault(one.string or 0, []).append(amount)
    strings = instrument.in_order()[::-1]
    head = ("", *(f"{one.string} {one.note}" for one in strings))
    found: list[Block] = []
    for after, sorts in sorted(stages.items()):
        rows = tuple(
            (sort, *(" / ".join(cells.get(one.string, ())) for one in strings))
            for sort, cells in sorts.items()
        )
        found.append(Table(_caption(after, work, instrument), head, rows))
    return found


def _caption(after: int, work: tuple[Adjustment, ...], instrument: Instrument) -> str:
    if not after:
        return tr("Also read, as it came")
    last = work[after - 1]
    return tr("Read after: {told}", told=adjustment_kind(last).told(last, instrument))


def _sort_and_amount(reading: Reading) -> tuple[str, str]:
    """Return what a reading is of, wherever its string, with its unit; and its figure as it was read."""
    place = sort_named(reading)
    if isinstance(reading, Pitch) and reading.hz is not None:
        return f"{place}, Hz", f"{reading.hz:.2f}"
    unit = "cents" if isinstance(reading, Pitch) else "mm"
    return f"{place}, {tr(unit)}", figured(float(getattr(reading, unit)), reading_kind(reading).decimals)
