"""Tuner posts as they commonly are, and how many winds are usual on them."""

from dataclasses import dataclass
from functools import cache

from breakangle.reference.rows import look_up, read_table

AROUND = "usual"


@dataclass(frozen=True)
class Post:
    """A kind of post: its diameter, the room its winds can fill, how deep a cut end goes in, usual winds.

    ``clamps``: it holds the string by a clamp, pulled taut. ``lies_across``: a roller, which lies across the string.
    """

    key: str
    words: str
    diameter_mm: float
    room_mm: float
    depth_mm: float
    winds_plain: float
    winds_wound: float
    winds_nylon: float
    source: str
    clamps: bool = False
    lies_across: bool = False


@dataclass(frozen=True)
class AroundPosts:
    """String from anchor to saddle and from nut to post, and the spare end, in mm."""

    words: str
    anchor_mm: float
    head_mm: float
    spare_end_mm: float
    source: str


@cache
def _posts() -> dict[str, Post]:
    return {key: Post(key=key, **row) for key, row in read_table("posts").items() if key != AROUND}


def posts() -> tuple[str, ...]:
    """Keys of the known kinds of post."""
    return tuple(_posts())


def post(key: str) -> Post:
    """A kind of post by its key.

    Raises:
        CorrectInputError: unknown; the error names the known ones.
    """
    return look_up("post", key, _posts())


def around_posts() -> AroundPosts:
    """What is usual around the posts."""
    return AroundPosts(**read_table("posts")[AROUND])
