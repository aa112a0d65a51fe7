"""Every pluck of every recording: one row a pluck."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from breakangle.fleet.items import SOUNDS, Item
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import mark, tr

WORDS = mark("pitch of plucked strings, for each recording")
ENDINGS = SOUNDS
COLUMNS = (
    ("start_s", "double", mark("when it was plucked, seconds from the beginning")),
    ("verdict", "string", mark("good, doubtful or refused")),
    ("reasons", "list<string>", mark("what is wrong with it, in words")),
    ("hz", "double", mark("its first partial, Hz; none where nothing could be measured")),
    ("uncertainty_cents", "double", mark("its standard deviation, cents")),
    ("inharmonicity", "double", mark("B of partial n at n f0 sqrt(1 + B n^2)")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return a row for each pluck.

    Raises:
        ChooseAnotherFileError: the worker does not see the file, or it cannot be read.
    """
    from breakangle.fleet.arrays import plain
    from breakangle.library.sound import listen

    del settings
    if not Path(item.path).is_file():
        raise ChooseAnotherFileError(
            tr("{path} is not there for the worker that was to hear it", path=item.path),
            tr("recordings stay where they are and are read by the workers"),
            tr("put them in a folder that every worker's machine has under the same path"),
        )
    names = [name for name, _, _ in COLUMNS]
    return [{name: plain(getattr(take, name)) for name in names} for take in listen(item.path).takes]
