"""Options of verbs that may believe what many instruments taught."""

from typing import Any

from breakangle.model.words.speech import tr


def add_taught(verb: Any, where: str) -> None:
    """Add `--taught`, `--make` and `--year`.

    Args:
        verb: the verb's parser.
        where: what the verb takes from the file, and of which instrument.
    """
    verb.add_argument("--taught", metavar="FILE", help=where)
    verb.add_argument(
        "--make", default="", metavar="MAKE", help=tr("with --taught: whose instrument this is")
    )
    verb.add_argument("--year", default="", metavar="YEAR", help=tr("with --taught: when it was made"))
