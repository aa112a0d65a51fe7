"""The cells of a buzz map made at once: the chance of a touch, without how it sounds."""

from breakangle.drawings.board.board_cells import Cell, CellMap
from breakangle.model.words.speech import tr
from breakangle.planning.buzz.try_out import Chances

DOUBTFUL, LIKELY = 0.05, 0.5


def chance_cells(found: Chances, strength: str) -> CellMap:
    """Return the chance (percent) that each note touches a crown at `strength`; an open string at its own nut."""
    cells = {}
    for string, stop, chance, crown in zip(found.string, found.stop, found.chance, found.crown, strict=True):
        cells[int(string), int(stop)] = _cell(float(chance), int(crown))
    return CellMap(
        title=tr("Buzz at {strength} play", strength=tr(strength)),
        unit=tr("chance in percent that the note touches a crown"),
        cells=cells,
        key=(
            ("cell", "", tr("clear")),
            ("cell-warm-1", "ring", tr("may touch")),
            ("cell-warm-3", "up", tr("touches, more likely than not")),
        ),
    )


def _cell(chance: float, crown: int) -> Cell:
    percent = f"{100.0 * chance:.0f}"
    if chance >= LIKELY:
        return Cell(
            percent, "cell-warm-3", "up", tr("touches crown {crown}, more likely than not", crown=crown)
        )
    if chance >= DOUBTFUL:
        return Cell(percent, "cell-warm-1", "ring", tr("may touch crown {crown}", crown=crown))
    return Cell(percent, words=tr("clear"))
