"""What a service file may say only where the tables know it: kinds, makes and wraps, and pitches near their notes."""

import re
from collections.abc import Iterator
from typing import Any

from breakangle.model.instrument import Instrument, String
from breakangle.model.json_text import shown
from breakangle.model.kind.kind_table import KindShape
from breakangle.model.service import Service
from breakangle.model.words.noun import Noun
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.readings.pitch import FARTHEST_CENTS, Pitch, nominal_ratio, octave_hint
from breakangle.planning.state.board import board_of
from breakangle.reference.families import families
from breakangle.reference.posts import posts
from breakangle.reference.strings import makes, wraps

# A kind's key is a part of an address, where `new` is the form of one that is not there yet.
KIND_KEY, NO_KEY = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*"), "new"


def is_kind_key(key: str) -> bool:
    """Return whether a kind of a shop's can have this key."""
    return KIND_KEY.fullmatch(key) is not None and key != NO_KEY


def unheard_names(service: Service) -> Iterator[str]:
    """Yield a complaint for every name of a kind, make or wrap that the tables do not have."""
    for path, noun in _nouns(service, "$"):
        if isinstance(noun, Instrument) and noun.kind not in families():
            if noun.kind_table is None:
                yield _unheard(f"{path}.kind", noun.kind, families())
            elif not is_kind_key(noun.kind):
                yield tr(
                    "{path}.kind is {shown}; beside a kind_table it must be small letters a to z and digits, with "
                    "single hyphens between them, and not new",
                    path=path,
                    shown=shown(noun.kind),
                )
        if isinstance(noun, KindShape) and noun.post not in posts():
            yield _unheard(f"{path}.post", noun.post, posts())
        if isinstance(noun, String):
            if noun.make not in makes():
                yield _unheard(f"{path}.make", noun.make, makes())
            if noun.wrap is not None and noun.wrap not in wraps():
                yield _unheard(f"{path}.wrap", noun.wrap, wraps())


def _unheard(path: str, value: str, known: tuple[str, ...]) -> str:
    return tr(
        "{path} is {shown}; it must be one of {known}", path=path, shown=shown(value), known=", ".join(known)
    )


def far_pitches(service: Service) -> Iterator[str]:
    """Yield a complaint for every frequency that is too far from its note to be of that string and fret."""
    instrument, reach = service.instrument, 2.0 ** (FARTHEST_CENTS / 1200.0)
    for stage in range(len(service.work) + 1):
        for index, reading in enumerate(service.readings):
            if isinstance(reading, Pitch) and reading.hz is not None and reading.after == stage:
                board = board_of(instrument, service.reference_hz)
                note_hz = float(board.hz[reading.string - 1]) * nominal_ratio(reading, board)
                if not note_hz / reach <= reading.hz <= note_hz * reach:
                    allowed = tr(
                        "a number from {note_hz:.2f} to {note_hz_2:.2f} Hz, near its note",
                        note_hz=note_hz / reach,
                        note_hz_2=note_hz * reach,
                    )
                    hint = octave_hint(reading.hz, note_hz)
                    said = tr(
                        "$.readings[{index}].hz is {shown}; it must be {allowed}",
                        index=index,
                        shown=shown(reading.hz),
                        allowed=allowed,
                    )
                    yield f"{said}; {hint}" if hint else said
        if stage < len(service.work):
            instrument = service.work[stage].changed_instrument(instrument)


def _nouns(value: Any, path: str) -> Iterator[tuple[str, Noun]]:
    if isinstance(value, Noun):
        yield path, value
        for key in type(value).model_fields:
            yield from _nouns(getattr(value, key), f"{path}.{key}")
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from _nouns(item, f"{path}[{index}]")
