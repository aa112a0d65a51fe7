"""Slack to leave for a wanted number of winds on a post, as a length and as "this far past the post"."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.physics.string import winding as posts_physics
from breakangle.planning.state.board import Board, board_of
from breakangle.reference.families import family_of
from breakangle.reference.posts import Post, around_posts, post
from breakangle.reference.strings import make

Lay = Literal["under", "over", "locked"]
LAYS: tuple[Lay, ...] = ("under", "over", "locked")
MOST_WINDS, POST_RANGE_MM, STRING_RANGE_MM = 12.0, (2.0, 30.0), (0.1, 6.0)  # common practice, no source


@dataclass(frozen=True)
class Winding:
    """How one string goes on its post; lengths in mm.

    `slack_mm`: how far to push the string back after pulling it taut. `mark_past_mm`: where to bend or mark
    the taut string, past the middle of the post; on a slotted post where to cut it, the end that goes into
    the post included. `cut_past_mm`: where to cut it at the very last, the spare end included (None on a
    slotted post, where the cut is the first thing). `winds`: what will lie on the post at pitch.
    `filled_mm` of `room_mm`: the length of post the winds fill. `stretch_mm`: what coming to pitch takes up.
    """

    string: int | None
    post: str
    winds: float
    slack_mm: float
    mark_past_mm: float
    cut_past_mm: float | None
    posts_past: float | None
    filled_mm: float
    room_mm: float
    fits: bool
    most_winds: float
    stretch_mm: float
    sentences: tuple[str, ...]


def wind(
    string_diameter_mm: float,
    winds: float | None = None,
    kind: str = "plain",
    post_diameter_mm: float | None = None,
    room_mm: float | None = None,
    lay: Lay = "under",
    stretch_mm: float = 0.0,
    post_spacing_mm: float | None = None,
    string: int | None = None,
    winds_usual: Literal["plain", "wound", "nylon"] = "plain",
) -> Winding:
    """Return how much slack to leave for `winds` winds on one post.

    Args:
        string_diameter_mm: outside diameter of the string.
        winds: wanted number on the post at pitch; None: the usual number.
        kind: `plain`, `slotted`, `locking`, `roller` or `bass`: a row of the posts table.
        post_diameter_mm: where measured, in the table's place.
        room_mm: length of post that the winds can fill, where measured.
        lay: `under`: every wind below the last, away from the hole; `over`: above; `locked`: the first
            above the tail, the rest below, so that the string grips its own tail.
        stretch_mm: what the string gives while it comes to pitch (`stretch_of`).
        post_spacing_mm: distance from this post to the next, to say the mark in posts.
        string: number to carry through.
        winds_usual: whose usual number is taken where `winds` is None.

    Raises:
        CorrectInputError: an unknown post or lay, or a measure that cannot be right.
    """
    of = post(kind)
    if lay not in LAYS:
        raise CorrectInputError(tr("lay {lay!r}", lay=lay), tr("one of {lays}", lays=", ".join(LAYS)))
    diameter = post_diameter_mm if post_diameter_mm is not None else of.diameter_mm
    room = room_mm if room_mm is not None else of.room_mm
    wanted = winds if winds is not None else float(getattr(of, f"winds_{winds_usual}"))
    _checked(string_diameter_mm, diameter, room, wanted, stretch_mm, post_spacing_mm)
    sizes = {"post_diameter_mm": diameter, "string_diameter_mm": string_diameter_mm, "stretch_mm": stretch_mm}
    slack = max(float(posts_physics.slack_mm(winds_count=wanted, **sizes)), 0.0)
    made = float(posts_physics.winds_from_slack_count(slack_mm=slack, **sizes))
    filled = float(posts_physics.winds_height_mm(winds_count=made, string_diameter_mm=string_diameter_mm))
    most = max(room / string_diameter_mm - 1.0, 0.0)
    mark = slack + of.depth_mm
    spare = around_posts().spare_end_mm
    found = Winding(
        string, kind, made, slack, mark, None if of.depth_mm else mark + spare,
        mark / post_spacing_mm if post_spacing_mm else None, filled, room, filled <= room, most, stretch_mm, (),
    )  # fmt: skip
    return _told(found, of, wanted, lay, string_diameter_mm)


def wind_set(
    service: Service,
    kind: str | None = None,
    winds: float | None = None,
    post_diameter_mm: float | None = None,
    room_mm: float | None = None,
    lay: Lay = "under",
    post_spacing_mm: float | None = None,
) -> tuple[Winding, ...]:
    """Return how every string of the service's instrument goes on its post, from string 1 up.

    `kind` None: the posts that are usual for the instrument's family. The stretch to pitch is counted,
    with the usual lengths behind nut and saddle.

    Raises:
        CorrectInputError: as `wind` does.
    """
    board = board_of(service.instrument_now(), service.reference_hz)
    found, kind = [], kind or family_of(board.instrument).post
    for index, one in enumerate(board.instrument.in_order()):
        usual: Literal["plain", "wound", "nylon"] = (
            "nylon" if make(one.make).soft else "wound" if make(one.make).wound else "plain"
        )  # fmt: skip
        found.append(
            wind(
                one.diameter_mm, winds, kind, post_diameter_mm, room_mm, lay,
                stretch_of(board, index), post_spacing_mm, one.string, usual,
            )
        )  # fmt: skip
    return tuple(found)


def stretch_of(board: Board, index: int) -> float:
    """Return what string `index` (from 0) gives in mm while it comes to pitch, elastically; nylon creeps on."""
    around, constants = around_posts(), board.strings[index]
    free = float(board.open_length_mm[index]) + around.anchor_mm + around.head_mm
    return float(
        posts_physics.stretch_to_pitch_mm(
            free_length_mm=free,
            tension_n=constants.tension_n,
            axial_stiffness_n=constants.axial_stiffness_n,
        )
    )


def _checked(
    string_mm: float,
    post_mm: float,
    room_mm: float,
    winds: float,
    stretch_mm: float,
    spacing_mm: float | None,
) -> None:
    for what, value, (low, high), unit in (
        (tr("the string is"), string_mm, STRING_RANGE_MM, " mm"),
        (tr("the post is"), post_mm, POST_RANGE_MM, " mm"),
        (tr("the room for winds is"), room_mm, (0.0, 60.0), " mm"),
        (tr("winds wanted are"), winds, (0.0, MOST_WINDS), ""),
        (tr("the stretch is"), stretch_mm, (0.0, 100.0), " mm"),
        (tr("the next post is away by"), spacing_mm if spacing_mm is not None else 24.0, (8.0, 200.0), " mm"),
    ):
        if not low <= value <= high:
            raise CorrectInputError(
                f"{what} {value:g}{unit}", tr("from {low:g} to {high:g}{unit}", low=low, high=high, unit=unit)
            )


def _slack_sentence(found: Winding, of: Post) -> str:
    if of.clamps:
        return tr("Pull the string taut through the post and clamp it: no slack.")
    if of.depth_mm:
        return tr(
            "Pull it taut past the post, cut it {mark_past_mm:.1f} mm past the post's middle, and put the end "
            "down into the post: {depth_mm:.1f} mm go in, {slack_mm:.1f} mm are slack.",
            mark_past_mm=found.mark_past_mm,
            depth_mm=of.depth_mm,
            slack_mm=found.slack_mm,
        )
    return tr(
        "Pull it taut through the post, then let {slack_mm:.1f} mm back: a mark {mark_past_mm:.1f} mm past the "
        "post comes to the post.",
        slack_mm=found.slack_mm,
        mark_past_mm=found.mark_past_mm,
    )


def _told(found: Winding, of: Post, wanted: float, lay: Lay, diameter_mm: float) -> Winding:
    """Return the winding with what a person does, in sentences."""
    said: list[str] = [_slack_sentence(found, of)]
    if found.posts_past is not None:
        said.append(
            tr("That is {posts_past:.1f} times the way to the next post.", posts_past=found.posts_past)
        )
    if of.clamps:
        said.append(tr("Coming to pitch winds it on {winds:.1f} times, under one wind.", winds=found.winds))
    elif found.winds > wanted + 0.25:
        said.append(
            tr(
                "Coming to pitch winds it on {winds:.1f} times by itself: take up all slack first.",
                winds=found.winds,
            )
        )
    said += _room_sentences(found, diameter_mm)
    said += _roller_sentences(found, lay) if of.lies_across else _lay_sentences(found, lay)
    if found.cut_past_mm is not None:
        said.append(
            tr(
                "Leave {spare_end_mm:.1f} mm of spare end until the very last trim.",
                spare_end_mm=around_posts().spare_end_mm,
            )
        )
    return replace(found, sentences=tuple(said))


def _room_sentences(found: Winding, diameter_mm: float) -> Sequence[str]:
    if found.winds <= 0.0:
        return ()
    if not found.fits:
        return (
            tr(
                "{winds:.1f} winds of {diameter_mm:.2f} mm need {filled_mm:.1f} mm of post, there "
                "are {room_mm:.1f} mm: at most {most_winds:.1f} winds, or they climb over each other.",
                winds=found.winds,
                diameter_mm=diameter_mm,
                filled_mm=found.filled_mm,
                room_mm=found.room_mm,
                most_winds=found.most_winds,
            ),
        )
    return (
        tr(
            "{winds:.1f} winds fill {filled_mm:.1f} mm of {room_mm:.1f} mm.",
            winds=found.winds,
            filled_mm=found.filled_mm,
            room_mm=found.room_mm,
        ),
    )


def _lay_sentences(found: Winding, lay: Lay) -> Sequence[str]:
    if found.winds < 1.0:
        return ()
    if lay == "over":
        return (tr("Winds above the hole lift the string: it breaks less sharply over the nut."),)
    if lay == "locked":
        return (tr("The first wind goes over the tail, the rest below: the string grips its own end."),)
    return (tr("Every wind goes below the last: the string leaves low and presses on the nut."),)


def _roller_sentences(found: Winding, lay: Lay) -> Sequence[str]:
    """Return how winds go on the roller of a slotted head, which lies across the string: common practice, no
    source."""
    if found.winds < 1.0:
        return ()
    first = (
        (tr("The first wind goes over the tail: the string grips its own end."),) if lay == "locked" else ()
    )
    return (
        *first,
        tr(
            "The winds lie side by side, evenly, from the hole toward the nearer side of the "
            "head, so that the string runs straight back to its nut slot."
        ),
    )
