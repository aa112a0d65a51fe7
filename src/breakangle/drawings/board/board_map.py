"""A plan view over the board: strings × frets, a figure in every cell, with a tint and a sign beside it."""

from breakangle.drawings.board.board_cells import Cell, CellMap
from breakangle.drawings.board.board_grid import Grid, Lane, Need, Part, grid_of, mirrored
from breakangle.drawings.look import SCREEN, Drawing, Look, Table
from breakangle.drawings.sheet import MIDDLE_RATIO, Point, Sheet, polyline
from breakangle.drawings.signs import draw_sign, draw_signs
from breakangle.drawings.text_width import fitted, text_width, wrapped
from breakangle.model.words.speech import tr
from breakangle.planning.state.board import Board

SIZE_RATIO, SIGN_RATIO, SHIFT_RATIO = 0.85, 0.62, 0.62


def board_map(board: Board, shown: CellMap, *, look: Look = SCREEN) -> Drawing:
    """Return the map of `shown` over `board`: frets along the width where they fit, else from top to bottom.

    Args:
        board: the instrument's geometry; `look.even_frets` spaces its frets alike, else truly.
        shown: what stands in the cells.
        look: width, size of text, page or paper, left-handed (the nut on the right, the low string likewise).
    """
    sheet, size = Sheet(look), SIZE_RATIO * look.text
    margin = 0.6 * look.text
    widest = max((text_width(cell.text, size, cell.strong) for cell in shown.cells.values()), default=size)
    signed = SIGN_RATIO * size * 1.25
    need = Need(widest + signed + 0.5 * size, 1.75 * size)
    opened = any(fret == board.first[string - 1] == 0 for string, fret in shown.cells)
    names = [f"{one.string}  {one.note}" for one in board.instrument.in_order()]
    side = max(text_width(name, size) for name in names) + 0.6 * size
    numbers = text_width(str(board.fret_count), size) + 0.9 * size
    rooms = (look.width - 2 * margin - side, look.width - 2 * margin - numbers)
    grid = grid_of(board, look, need, rooms, opened)
    y = _heading(sheet, shown)
    for part in grid.parts:
        y = _draw_part(sheet, board, shown, grid, part, (side, numbers), y)
    y = _draw_key(sheet, shown, y + 0.3 * look.text)
    title = tr(
        "{instrument_name}: {shown_title} over the board",
        instrument_name=board.instrument.name,
        shown_title=shown.title.lower(),
    )
    return sheet.close(y, title, _description(board, shown, look), _table(board, shown))


def _heading(sheet: Sheet, shown: CellMap) -> float:
    text, look = sheet.look.text, sheet.look
    margin, size = 0.6 * text, 0.88 * text
    sheet.text((margin, 1.3 * text), fitted(shown.title, look.width - 2 * margin, text, True), "strong")
    told = "; ".join(
        (tr("figures: {unit}", unit=tr(shown.unit)) if shown.counted else shown.unit, *shown.notes)
    )
    y = 1.3 * text
    for line in wrapped(told, look.width - 2 * margin, size):
        y += 1.4 * size
        sheet.text((margin, y), line, "quiet", size=size)
    return y + 0.9 * text


def _draw_part(
    sheet: Sheet,
    board: Board,
    shown: CellMap,
    grid: Grid,
    part: Part,
    beside: tuple[float, float],
    top_y: float,
) -> float:
    """Draw one part from `top_y` down with its names and numbers, and return where it ends."""
    look = sheet.look
    size, margin = SIZE_RATIO * look.text, 0.6 * look.text
    side, numbers = beside
    if grid.upright:
        # Seen as the instrument stands: the nut above, the low string on the left.
        part = part if look.left_handed else mirrored(part, along=False)
        origin = (margin + numbers, top_y + 1.5 * size)
    else:
        part = mirrored(part, along=True) if look.left_handed else part
        origin = (margin + (0.0 if look.left_handed else side), top_y + 1.5 * size)
    frets = sorted({fret for _, fret in shown.cells})
    _draw_names(sheet, board, grid, part, origin)
    for lane in part.lanes:
        _draw_lane(sheet, board, shown, grid, lane, origin)
    _draw_numbers(sheet, frets, grid, part, origin)
    _draw_nuts(sheet, board, grid, part, origin)
    return origin[1] + (part.along if grid.upright else part.across) + 0.9 * size


def _at(grid: Grid, origin: Point, along: float, across: float) -> Point:
    if grid.upright:
        return (origin[0] + across, origin[1] + along)
    return (origin[0] + along, origin[1] + across)


def _draw_lane(sheet: Sheet, board: Board, shown: CellMap, grid: Grid, lane: Lane, origin: Point) -> None:
    size = SIZE_RATIO * sheet.look.text
    cells = [(fret, shown.cells[lane.string, fret]) for fret in range(board.fret_count + 1)
             if (lane.string, fret) in shown.cells]  # fmt: skip
    for tint in dict.fromkeys(one.tint for _, one in cells):
        some = [fret for fret, one in cells if one.tint == tint]
        sheet.path("".join(_outline(grid, lane, fret, origin) for fret in some), tint)
    middle = (lane.low + lane.high) / 2.0
    places: list[tuple[Cell, Point]] = [
        (one, _at(grid, origin, (lane.edges[fret] + lane.edges[fret + 1]) / 2.0, middle))
        for fret, one in cells
    ]
    for kind in ("text", "strong"):
        written = [(cell, at) for cell, at in places if cell.strong == (kind == "strong")]
        if written:
            with sheet.lettering(kind, "middle", size):
                for cell, at in written:
                    _write_cell(sheet, cell, at, size)
    draw_signs(sheet, [(cell.sign, _beside(cell, at, size)) for cell, at in places], SIGN_RATIO * size)


def _write_cell(sheet: Sheet, cell: Cell, at: Point, size: float) -> None:
    shift = SHIFT_RATIO * SIGN_RATIO * size if cell.sign else 0.0
    kind = "strong" if cell.strong else "text"
    sheet.text((at[0] + shift, at[1] + MIDDLE_RATIO * size), cell.text, kind, "middle", size)


def _beside(cell: Cell, at: Point, size: float) -> Point:
    """Return where the sign stands: before the figure, which makes room for it."""
    sign = SIGN_RATIO * size
    return (at[0] + (SHIFT_RATIO - 0.8) * sign - text_width(cell.text, size, cell.strong) / 2.0, at[1])


def _outline(grid: Grid, lane: Lane, fret: int, origin: Point) -> str:
    start, end = lane.edges[fret], lane.edges[fret + 1]
    corners = [(start, lane.low), (end, lane.low), (end, lane.high), (start, lane.high)]
    return polyline([_at(grid, origin, *corner) for corner in corners], True)


def _draw_names(sheet: Sheet, board: Board, grid: Grid, part: Part, origin: Point) -> None:
    size, strings = SIZE_RATIO * sheet.look.text, board.instrument.in_order()
    for lane in part.lanes:
        one = strings[lane.string - 1]
        middle = (lane.low + lane.high) / 2.0
        if grid.upright:
            name = f"{one.string} {one.note}"
            name = name if text_width(name, size) <= lane.high - lane.low else str(one.string)
            sheet.text((origin[0] + middle, origin[1] - 0.5 * size), name, "quiet", "middle", size)
        else:
            base = origin[1] + middle + MIDDLE_RATIO * size
            left = sheet.look.left_handed
            x = origin[0] + part.along + 0.6 * size if left else origin[0] - 0.6 * size
            name = f"{one.string}  {one.note}"
            sheet.text((x, base), name, "quiet", "start" if left else "end", size)


def _draw_numbers(sheet: Sheet, frets: list[int], grid: Grid, part: Part, origin: Point) -> None:
    """Write each fret's number beside its cells: by the low strings when upright, above otherwise."""
    size = SIZE_RATIO * sheet.look.text
    edge = min(part.lanes, key=lambda one: one.low)
    last = -1e9
    for fret in frets:
        middle = (edge.edges[fret] + edge.edges[fret + 1]) / 2.0
        word = tr("open") if fret == 0 and not grid.upright else str(fret)
        if grid.upright:
            sheet.text(
                (origin[0] - 0.45 * size, origin[1] + middle + MIDDLE_RATIO * size),
                word,
                "quiet",
                "end",
                size,
            )
            continue
        x, half = origin[0] + middle, text_width(word, size) / 2.0
        if abs(x - last) > half + 0.8 * size:
            sheet.text(
                (x, origin[1] - 0.5 * size), word, "strong" if fret in (12, 24) else "quiet", "middle", size
            )
            last = x


def _draw_nuts(sheet: Sheet, board: Board, grid: Grid, part: Part, origin: Point) -> None:
    """Draw each string's own nut as a thick line."""
    lines = []
    for lane in part.lanes:
        edge = lane.edges[int(board.first[lane.string - 1]) + 1]
        lines.append(polyline([_at(grid, origin, edge, lane.low), _at(grid, origin, edge, lane.high)]))
    sheet.path("".join(lines), "nut")


def _draw_key(sheet: Sheet, shown: CellMap, top_y: float) -> float:
    text, look = sheet.look.text, sheet.look
    size, margin, box = 0.88 * text, 0.6 * text, 1.7 * text
    x, y = margin, top_y + 1.1 * size
    for tint, sign, meaning in shown.key:
        words = fitted(meaning, look.width - 2 * margin - box - size, size)
        wide = box + 0.5 * size + text_width(words, size)
        if x > margin and x + wide > look.width - margin:
            x, y = margin, y + 1.8 * size
        sheet.rect(x, y - 0.95 * size, box, 1.25 * size, tint)
        if sign:
            draw_sign(sheet, sign, (x + box / 2.0, y - 0.32 * size), SIGN_RATIO * text)
        sheet.text((x + box + 0.5 * size, y), words, "quiet", size=size)
        x += wide + 1.3 * text
    return y + 0.9 * size


def _description(board: Board, shown: CellMap, look: Look) -> str:
    """Return what the map says in a sentence or two: how many cells are of which kind."""
    del look
    if not shown.counted:
        kinds = dict.fromkeys(cell.words.split(",")[0] for cell in shown.cells.values())
        size = tr(
            "{string_count} strings and {fret_count} frets",
            string_count=board.string_count,
            fret_count=board.fret_count,
        )
        return f"{size}; {tr(shown.unit)}: {', '.join(kinds)}. {'; '.join(shown.notes)}."
    counted: dict[str, int] = {}
    for one in shown.cells.values():
        counted[one.words.split(",")[0]] = counted.get(one.words.split(",")[0], 0) + 1
    told = ", ".join(f"{count} {words}" for words, count in sorted(counted.items(), key=lambda one: -one[1]))
    strings, frets = board.string_count, board.fret_count
    return tr(
        "{strings} strings and {frets} frets; figures in {unit}. Of {cells_count} notes: {told}.",
        strings=strings,
        frets=frets,
        unit=tr(shown.unit),
        cells_count=len(shown.cells),
        told=told,
    )


def _table(board: Board, shown: CellMap) -> Table:
    """Return a row for each string, a column for each fret; what is not plain is said after the figure."""
    strings = board.instrument.in_order()
    frets = sorted({fret for _, fret in shown.cells})
    head = (tr("String"), *(tr("open") if fret == 0 else tr("fret {fret}", fret=fret) for fret in frets))
    rows = tuple(
        (f"{one.string}, {one.note}", *(_said(shown.cells.get((one.string, fret))) for fret in frets))
        for one in strings
    )
    return Table(f"{shown.title}, {tr(shown.unit)}", head, rows)


def _said(cell: Cell | None) -> str:
    if cell is None:
        return ""
    return f"{cell.text} ({cell.words})" if cell.sign else cell.text
