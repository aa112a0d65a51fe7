"""Amounts across a nut or saddle, string by string: the edge as it stands, the line to work to, and each amount."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from breakangle.drawings.figures import length_number, length_text, unit_word
from breakangle.drawings.look import SCREEN, Drawing, Look, Table
from breakangle.drawings.sheet import Sheet, arrow_head, polyline
from breakangle.drawings.text_width import text_width
from breakangle.model.words.speech import mark, tr

Work = Literal["cut", "raise or lower", "along"]
PARTS = mark("nut"), mark("saddle")
Part = Literal["nut", "saddle"]
TALLEST, EDGE, BODY = 2.6, 1.2, 1.6
"""Height of the largest amount, margin at the sides and body below the line, in sizes of text."""
LEAST_MM, MOST_ROWS = 1e-6, 4
COURSE_GAP = 0.7  # between strings of one course, of the gap between courses; chosen to be seen
SMALL = 0.95  # of the text's size, for what stands beside the figures
KEYS: dict[Work, str] = {
    "cut": mark("take away the grey"),
    "raise or lower": mark("dashed: now; thick: then"),
    "along": mark("from above; nut at the top"),
}


@dataclass(frozen=True)
class Across:
    """What is done at one string or side: its name, its note, by how much in mm, 0 where it is left alone.

    Positive is up, or away from the nut. `course` is the one it shares with its neighbours; None where it stands alone.
    """

    name: str
    note: str
    mm: float
    course: int | None = None


def amounts_across(
    strings: Sequence[Across],
    part: Part,
    work: Work,
    single: bool,
    look: Look = SCREEN,
    ends: tuple[Across, ...] = (),
) -> Drawing:
    """Return the part from the front, or from above with the nut at the top where the work is `along` the strings.

    Bass is on the left, or on the right for a left-handed instrument.

    Args:
        strings: every string, bass first.
        part: what is worked on.
        work: whether material is taken away, heights are changed, or places along the strings.
        single: whether it is one edge, as of a saddle in one piece; else each string has its own.
        look: width, size of text, unit, page or paper, left-handed.
        ends: of one edge, its bass end and its treble end, which lie beyond the outer strings; none where they are
            not known.
    """
    shown = tuple(reversed(strings)) if look.left_handed else tuple(strings)
    sheet, text = Sheet(look), look.text
    beyond = tuple(reversed(ends)) if look.left_handed else ends
    most = max((abs(one.mm) for one in (*shown, *ends)), default=0.0)
    up = (TALLEST * text / most if most > LEAST_MM else 0.0) * (-1.0 if work == "along" else 1.0)
    rows = _rows([_amount(one, look) for one in shown], text, look)
    places = _places(shown, look)
    raised = max((one.mm * up for one in (*shown, *ends)), default=0.0)
    note_rows = _rows([one.note for one in shown], SMALL * text, look)
    top = (3.0 + 1.1 * (note_rows - 1)) * text + max(raised, 0.0)
    old = [(x, top) for x in places]
    new = [(x, top - one.mm * up) for x, one in zip(places, shown, strict=True)]
    at_ends = [top - one.mm * up for one in beyond]
    floor = max([*(y for _, y in [*old, *new]), *at_ends]) + BODY * text
    _edges(sheet, old, new, floor, single, at_ends)
    for index, ((x, y), one) in enumerate(zip(new, shown, strict=True)):
        sheet.text((x, (2.2 + 1.1 * (index % note_rows)) * text), one.note, "quiet", "middle", SMALL * text)
        _string(sheet, (x, top, y), one, floor + (1.3 + 1.25 * (index % rows)) * text)
    last = floor + (1.3 + 1.25 * rows) * text
    sheet.text((look.width / 2, last), tr(KEYS[work]), "quiet", "middle", SMALL * text)
    if ends:
        last += 1.2 * text
        sheet.text((look.width / 2, last), _row(beyond, look), "quiet", "middle", SMALL * text)
    head = (tr("Where"), tr("Amount, {unit_word}", unit_word=unit_word(look.units)))
    told = (*shown, *beyond)
    body = tuple((_named(one), _amount(one, look)) for one in told)
    table = Table(tr("Amounts at the {part}", part=tr(part)), head, body)
    above = mark("The {part} from above: what each string's part of it moves")
    front = mark("The {part} from the front: what each string's part of it moves")
    title = tr(above if work == "along" else front, part=tr(part))
    return sheet.close(last + 0.5 * text, title, _words(told, part, work, look), table)


def _row(ends: Sequence[Across], look: Look) -> str:
    return ", ".join(f"{_named(one)} {_amount(one, look)}" for one in ends)


def _places(strings: Sequence[Across], look: Look) -> list[float]:
    """Return where each string stands across the width: alike far apart, those of one course nearer together."""
    steps = [
        COURSE_GAP if one.course is not None and one.course == before.course else 1.0
        for before, one in pairwise(strings)
    ]
    at = [0.5, *(0.5 + sum(steps[: index + 1]) for index in range(len(steps)))]
    wide, edge = at[-1] + 0.5, EDGE * look.text
    return [edge + (look.width - 2 * edge) * one / wide for one in at]


def _words(strings: Sequence[Across], part: Part, work: Work, look: Look) -> str:
    """Return in words what is drawn."""
    told = [f"{_named(one)}: {_said(one, work, look)}" for one in strings if abs(one.mm) > LEAST_MM]
    left = [_named(string) for string in strings if abs(string.mm) <= LEAST_MM]
    rest = tr(" Left alone: {left}.", left="; ".join(left)) if left else ""
    return tr(
        "Amounts at the {part}, drawn much larger than they are. {told}.{rest}",
        part=tr(part),
        told="; ".join(told),
        rest=rest,
    )


def _said(one: Across, work: Work, look: Look) -> str:
    amount = length_text(abs(one.mm), look.units)
    if work == "along":
        return tr(
            "{amount} {away} the nut", amount=amount, away=tr("away from") if one.mm > 0 else tr("toward")
        )
    if work == "cut":
        return tr("take off {amount}", amount=amount)
    return tr("raise {amount}", amount=amount) if one.mm > 0 else tr("lower {amount}", amount=amount)


def _named(one: Across) -> str:
    if not one.name.isdigit():
        return f"{one.name} {one.note}"
    return tr("string {name}, {note}", name=one.name, note=one.note) + (
        tr(", course {course}", course=one.course) if one.course is not None else ""
    )


def _amount(one: Across, look: Look) -> str:
    if abs(one.mm) <= LEAST_MM:
        return "–"
    return length_number(abs(one.mm), look.units)


def _rows(texts: Sequence[str], size: float, look: Look) -> int:
    """Return on how many lines one text a string is written in turn, that none covers another."""
    room = (look.width - 2 * EDGE * look.text) / max(len(texts), 1)
    widest = max((text_width(text, size, True) for text in texts), default=0.0)
    return min(max(math.ceil((widest + 0.4 * look.text) / room), 1), MOST_ROWS)


def _edges(
    sheet: Sheet,
    old: Sequence[tuple[float, float]],
    new: Sequence[tuple[float, float]],
    floor: float,
    single: bool,
    at_ends: Sequence[float],
) -> None:
    """Draw the body below the line to work to, what lies between the lines, and both of them."""
    half = min((right[0] - left[0] for left, right in pairwise(old)), default=sheet.look.width / 2) / 2
    if single:
        ends = [(old[0][0] - half, old[-1][0] + half)]
        runs = [(list(old), list(new))]
    else:
        ends = [(x - 0.8 * half, x + 0.8 * half) for x, _ in old]
        runs = [([a], [b]) for a, b in zip(old, new, strict=True)]
    for (left, right), (was, is_to_be) in zip(ends, runs, strict=True):
        before = [(left, was[0][1]), *was, (right, was[-1][1])]
        first, last = at_ends or (is_to_be[0][1], is_to_be[-1][1])
        after = [(left, first), *is_to_be, (right, last)]
        sheet.path(polyline([(left, floor), *after, (right, floor)], True), "wood")
        sheet.path(polyline([*before, *reversed(after)], True), "band")
        sheet.path(polyline(before), "part-after")
        sheet.path(polyline(after), "string")


def _string(sheet: Sheet, at: tuple[float, float, float], one: Across, base: float) -> None:
    """Draw one string's place, its arrow from the edge to the line, and its amount under it."""
    (x, old, new), text, look = at, sheet.look.text, sheet.look
    sheet.text((x, 1.1 * text), one.name, "strong", "middle")
    if abs(one.mm) <= LEAST_MM:
        sheet.text((x, base), _amount(one, look), "quiet", "middle")
        return
    way = 1.0 if new > old else -1.0
    head = min(0.55 * text, abs(new - old))
    if abs(new - old) > head:
        sheet.line((x, old), (x, new - way * head), "move")
    sheet.path(arrow_head((x, new), (0.0, way), head), "move-head")
    sheet.text((x, base), _amount(one, look), "strong", "middle")
