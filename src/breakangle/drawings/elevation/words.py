"""The words of an elevation: heading, key, description, and its numbers as a table."""

from collections.abc import Sequence

from breakangle.drawings.elevation.scene import Scene, crowns_move
from breakangle.drawings.elevation.string_view import StringView
from breakangle.drawings.figures import doubted, length_span, length_text, ordered, unit_word
from breakangle.drawings.look import Look, Table
from breakangle.drawings.sheet import Sheet
from breakangle.drawings.text_width import text_width
from breakangle.model.words.speech import mark, tr

AFTER_THE_PLAN = mark("after the plan")
"""What the second state is called where nobody says otherwise."""
PLACES = {"nut": mark("nut"), "rod": mark("rod"), "heel": mark("heel"), "saddle": mark("saddle")}


def _strings(views: Sequence[StringView]) -> str:
    if len(views) == 1:
        return views[0].words
    return tr("Strings {ordered}", ordered=ordered([view.string for view in views]))


def title(name: str, views: Sequence[StringView], planned: bool, after: str = AFTER_THE_PLAN) -> str:
    """Return what the drawing is called; `after` says what the second state is."""
    plan = tr(", now and {after}", after=after) if planned else ""
    return tr(
        "{name}: side view, {strings}{plan}",
        name=name,
        strings=_strings(views).lower() if len(views) > 1 else _strings(views),
        plan=plan,
    )


def draw_heading(sheet: Sheet, views: Sequence[StringView], planned: bool, scene: Scene) -> float:
    """Write which string this is and how far heights are exaggerated, with a scale; return where it ends."""
    del planned
    text, look = sheet.look.text, sheet.look
    margin, size = 0.6 * text, 0.88 * text
    left = _strings(views) if len(views) == 1 else tr("Side view")
    mm = 25.4 * 0.04 if look.units == "inch" else 1.0
    high = mm * scene.up_scale
    scale = tr("heights drawn {exaggeration} times", exaggeration=scene.exaggeration)
    bar_words = length_text(mm, look.units).replace(".00", "")
    room = look.width - 2 * margin - text_width(left, text, True) - 2 * text
    right_width = text_width(scale, size) + text_width(bar_words, size) + 1.6 * text
    sheet.text((margin, 1.3 * text), left, "strong")
    y = 1.3 * text if right_width <= room else 2.9 * text
    bar_x = look.width - margin - text_width(bar_words, size) - 0.5 * text
    sheet.text((bar_x - 0.9 * text, y), scale, "quiet", "end", size)
    sheet.text((look.width - margin, y), bar_words, "quiet", "end", size)
    top = y - 0.8 * text
    sheet.line((bar_x, top), (bar_x, top + high), "rule")
    for at in (top, top + high):
        sheet.line((bar_x - 0.35 * text, at), (bar_x + 0.35 * text, at), "rule")
    return max(y + 0.5 * text, top + high + 0.3 * text)


def key_of(views: Sequence[StringView], scene: Scene, after: str = AFTER_THE_PLAN) -> list[tuple[str, str]]:
    """Return the key: each line's ink with its meaning."""
    found = [("string", tr("string now"))]
    if any(view.after is not None for view in views):
        found.append(("string-after", tr("string {after}", after=after)))
    if any(view.after is not None and crowns_move(view.after, view.now, scene) for view in views):
        found.append(("fret-after", tr("crowns {after}", after=after)))
    found.append(("band", tr("where it may lie (19 times in 20)")))
    if any(measure.held for view in views for measure in view.measures):
        found.append(("held", tr("string as held for a reading")))
    if any(view.now.resting for view in views):
        found.append(("ring", tr("string lies on this crown")))
    if any(view.moves for view in views):
        found.append(("", tr("arrows show the way, not the amount")))
    return found


def description(
    views: Sequence[StringView], scene: Scene, look: Look, after_words: str = AFTER_THE_PLAN
) -> str:
    """Return the drawing in sentences."""
    parts = [
        tr(
            "Side view with the nut at the {right}; {scale}.",
            right=tr("right") if look.left_handed else tr("left"),
            scale=_scale(scene),
        )
    ]
    for view in views:
        after = view.figures_after or (None,) * len(view.figures)
        for measure, figure, then in zip(view.measures, view.figures, after, strict=True):
            taken = mark("{measure} over fret {fret}, {taken}")
            told = tr(taken, measure=measure.words, fret=measure.fret, taken=measure.taken())
            value = length_text(figure.mm, look.units, figure.spread_mm)
            later = (
                "" if then is None else f", {after_words} {length_text(then.mm, look.units, then.spread_mm)}"
            )
            reads = mark("String {string}: {told}: {value}{later}.")
            parts.append(tr(reads, string=view.string, told=told, value=value, later=later))
        if view.now.resting:
            frets = ordered(list(view.now.resting))
            parts.append(
                tr(
                    "String {string}, open, lies on the crown of fret {frets}.",
                    string=view.string,
                    frets=frets,
                )
            )
        for move in view.moves:
            how = f" ({move.how()})" if move.how() else ""
            parts.append(f"{_place(move.place, view.string)}: {move.words}{how}.")
    return " ".join(parts)


def _scale(scene: Scene) -> str:
    return tr("heights are drawn {exaggeration} times larger than lengths", exaggeration=scene.exaggeration)


def _place(place: str, string: int) -> str:
    return (
        tr("At the {place}, string {string}", place=PLACES[place], string=string)
        if place in ("nut", "saddle")
        else tr("At the {place}", place=PLACES[place])
    )


def table(views: Sequence[StringView], planned: bool, units: str, after_words: str = AFTER_THE_PLAN) -> Table:
    """Return the gaps and the moves as rows of plain words."""
    unit = unit_word(units)
    head = [tr("Reading"), tr("How taken"), tr("Now, {unit}", unit=unit)]
    head += [f"{after_words[:1].upper()}{after_words[1:]}, {unit}"] if planned else []
    head.append(tr("Wanted, {unit}", unit=unit))
    rows: list[tuple[str, ...]] = []
    for view in views:
        after = view.figures_after or (None,) * len(view.figures)
        for measure, figure, then in zip(view.measures, view.figures, after, strict=True):
            row = [
                tr("String {string}, {measure_words}", string=view.string, measure_words=measure.words),
                tr("fret {fret}, {taken}", fret=measure.fret, taken=measure.taken()),
            ]
            row.append(doubted(figure.mm, figure.spread_mm, units))
            if planned:
                row.append("" if then is None else doubted(then.mm, then.spread_mm, units))
            row.append(_wanted(measure.wanted_mm, measure.tolerance_mm, units))
            rows.append(tuple(row))
        blank = [""] * (len(head) - 3)
        rows += [(_place(move.place, view.string), move.how(), move.words, *blank) for move in view.moves]
    return Table(tr("The side view in numbers"), tuple(head), tuple(rows))


def _wanted(wanted_mm: float | None, tolerance_mm: float | None, units: str) -> str:
    if wanted_mm is None:
        return ""
    return length_span(wanted_mm, tolerance_mm or 0.0, units)
