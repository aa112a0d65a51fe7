"""The side elevation: neck, crowns, string and saddle from the solved state, heights exaggerated.

Level is the line over the crowns of the first and the joint fret as they stand now, so relief is seen as the
hollow it is. Now is solid, afterwards is dashed; the band is where the string may lie over the crowns.
"""

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from breakangle.drawings.elevation import words
from breakangle.drawings.elevation.marks import (
    draw_fret_numbers,
    draw_measure,
    draw_moves,
    measure_label,
)
from breakangle.drawings.elevation.moves import moves_of
from breakangle.drawings.elevation.profile import figures_of, level_of, measures_of, profile_of
from breakangle.drawings.elevation.scene import (
    BOARD_RATIO,
    BODY_RATIO,
    FRET_RATIO,
    Scene,
    draw_after,
    draw_ground,
    draw_string,
    exaggeration_of,
    span_mm,
)
from breakangle.drawings.elevation.string_view import StringView
from breakangle.drawings.key import draw_key
from breakangle.drawings.labels import Label, Placed, arranged, draw_labels, row_heights
from breakangle.drawings.look import SCREEN, Drawing, Look
from breakangle.drawings.sheet import Sheet
from breakangle.model.errors import CorrectInputError
from breakangle.model.reading import Adjustment, Target
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import relief_fret
from breakangle.reference.families import family_of

MARGIN_RATIO, HEAD_RATIO, TAIL_RATIO, NUMBER_RATIO = 0.6, 3.2, 3.2, 1.1
HANGING = ("heel",)
"""Places whose labels stand below with the readings; those of the others stand above."""


def elevation(
    now: Estimate,
    strings: Sequence[int],
    *,
    after: Estimate | None = None,
    adjustments: Sequence[Adjustment] = (),
    targets: Sequence[Target] = (),
    after_words: str = words.AFTER_THE_PLAN,
    left_out: Collection[str] = (),
    look: Look = SCREEN,
    first_step: int = 1,
) -> Drawing:
    """Return the elevation of `strings` (their numbers, drawn one below the other) in the state `now`.

    Args:
        now: the solved state.
        strings: numbers of the strings to show, from 1.
        after: the state after `adjustments`, drawn over it dashed.
        adjustments: what is to be done, in its order; each gets an arrow where it acts.
        targets: what is wanted; gaps among them are written with their tolerance.
        after_words: what the state `after` is called in key, title and table.
        left_out: names of gaps that are not written, such as `relief`.
        look: width, size of text, unit, page or paper, left-handed.
        first_step: the number that the first of `adjustments` has in its plan.

    Raises:
        CorrectInputError: a string that the instrument does not have, or none.
    """
    _known(now, strings)
    numbered = tuple(enumerate(adjustments, first_step))
    views = [_view(now, string, after, numbered, targets, look, strings, left_out) for string in strings]
    sheet, joint = Sheet(look), now.board.instrument.joint_fret
    title = words.title(now.board.instrument.name, views, after is not None, after_words)
    scene = _first_scene(views, look)
    y = words.draw_heading(sheet, views, after is not None, scene)
    for view in views:
        y = _draw_view(sheet, view, scene, y, joint, titled=len(views) > 1)
    y = draw_key(sheet, words.key_of(views, scene, after_words), y + 0.4 * look.text)
    table = words.table(views, after is not None, look.units, after_words)
    told = words.description(views, scene, look, after_words)
    return sheet.close(y + 0.3 * look.text, title, told, table)


def _known(now: Estimate, strings: Sequence[int]) -> None:
    count = now.board.string_count
    wrong = [string for string in strings if not 1 <= string <= count]
    if wrong or not strings:
        given = tr("string {wrong}", wrong=wrong[0]) if wrong else tr("no string")
        raise CorrectInputError(
            tr("{given} cannot be drawn", given=given),
            tr("strings 1 to {count}", count=count),
            tr("choose one of them"),
        )


def _view(
    now: Estimate,
    string: int,
    after: Estimate | None,
    adjustments: Sequence[tuple[int, Adjustment]],
    targets: Sequence[Target],
    look: Look,
    strings: Sequence[int],
    left_out: Collection[str],
) -> StringView:
    instrument = now.board.instrument
    posts: tuple[str, ...] = (
        ("treble", "bass") if now.board.side_ratio[string - 1] > 0.0 else ("bass", "treble")
    )
    posts = posts[:1] if len(strings) > 1 else posts
    whole = string == strings[0]
    level = level_of(now, string)
    usual = measures_of(now, string, targets, relief_fret(instrument, family_of(instrument)))
    measures = [one for one in usual if one.words not in left_out]
    return StringView(
        string=string,
        note=instrument.in_order()[string - 1].note,
        now=profile_of(now, string, level),
        after=None if after is None else profile_of(after, string, level),
        measures=tuple(measures),
        figures=tuple(figures_of(now, measures)),
        figures_after=() if after is None else tuple(figures_of(after, measures)),
        moves=tuple(moves_of(adjustments, string, instrument, look.units, posts, whole)),
        course=instrument.course_of(string),
    )


def _first_scene(views: Sequence[StringView], look: Look) -> Scene:
    """Return the scene that all views share but for their place: one scale, one exaggeration."""
    profiles = [one for view in views for one in (view.now, view.after) if one is not None]
    saddle = max(profile.saddle_along_mm for profile in profiles)
    head, tail = HEAD_RATIO * look.text, TAIL_RATIO * look.text
    left, right = (tail, head) if look.left_handed else (head, tail)
    along_scale = (look.width - left - right) / saddle
    low, high = span_mm(profiles)
    exaggeration = exaggeration_of(look, along_scale, high - low)
    return Scene(look, left, look.width - right, saddle, exaggeration, high, low, 0.0)


def _placed_at(scene: Scene, view: StringView, top_y: float) -> Scene:
    """Return the scene of one view, its field from `top_y` down and no higher than it needs."""
    low, high = span_mm([one for one in (view.now, view.after) if one is not None])
    return Scene(
        scene.look, scene.left_x, scene.right_x, scene.saddle_mm, scene.exaggeration, high, low, top_y
    )


def _draw_view(sheet: Sheet, view: StringView, scene: Scene, top_y: float, joint: int, titled: bool) -> float:
    """Draw one string's elevation from `top_y` down, and return where it ends."""
    text = scene.look.text
    if titled:
        sheet.text((MARGIN_RATIO * text, top_y + text), view.words, "strong")
        top_y += 1.7 * text
    above = _arranged(_labels_above(scene, view, joint), scene)
    label_room = sum(row_heights(above, text))
    arrow_room = 2.4 * text if above else 0.8 * text
    here = _placed_at(scene, view, top_y + label_room + arrow_room)
    draw_ground(sheet, here, view.now, joint)
    draw_string(sheet, here, view.now)
    if view.after is not None:
        draw_after(sheet, here, view.after, view.now)
    below = _labels_of_measures(sheet, here, view)
    moved = draw_moves(sheet, here, view.moves, view.now, joint)
    draw_labels(sheet, _arranged(_above(moved), here), top_y + label_room, text, below=False)
    number_y = here.bottom_y + (FRET_RATIO + BOARD_RATIO + BODY_RATIO + NUMBER_RATIO) * text
    draw_fret_numbers(sheet, here, view.now, number_y)
    placed = _arranged([*below, *(label for place, label in moved.items() if place in HANGING)], here)
    draw_labels(sheet, placed, number_y + 0.5 * text, text, below=True, kept_free=1.4 * text)
    return number_y + 0.5 * text + sum(row_heights(placed, text)) + 0.4 * text


def _above(moved: Mapping[str, Label]) -> list[Label]:
    return [label for place, label in moved.items() if place not in HANGING]


def _arranged(labels: Sequence[Label], scene: Scene) -> list[Placed]:
    margin = MARGIN_RATIO * scene.look.text
    return arranged(labels, scene.look.text, (margin, scene.look.width - margin))


def _labels_above(scene: Scene, view: StringView, joint: int) -> list[Label]:
    """Return the labels that will stand above the field, to know the room they take."""
    trial = Sheet(scene.look)
    return _above(draw_moves(trial, _placed_at(scene, view, 0.0), view.moves, view.now, joint))


def _labels_of_measures(sheet: Sheet, scene: Scene, view: StringView) -> list[Label]:
    found = []
    after = view.figures_after or (None,) * len(view.figures)
    for measure, figure, then in zip(view.measures, view.figures, after, strict=True):
        start_y = draw_measure(sheet, scene, measure, figure, view.now)
        x = scene.x(float(view.now.along_mm[measure.fret]))
        found.append(measure_label(measure, figure, then, (x, start_y), scene.look.units))
    return found


def strings_at_the_edges(now: Estimate) -> tuple[int, ...]:
    """Return the numbers of the lowest and the highest string that start at the nut, low first."""
    full = np.flatnonzero(now.board.first == 0) + 1
    numbers = full if len(full) else np.arange(1, now.board.string_count + 1)
    return tuple(dict.fromkeys((int(numbers[-1]), int(numbers[0]))))
