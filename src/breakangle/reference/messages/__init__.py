"""The words of messages, a file for each topic, with the places where their figures stand."""

import tomllib
from functools import cache
from importlib.resources import files

from breakangle.model.words.message import Message

LANGUAGE = "en"


@cache
def catalogue(language: str = LANGUAGE) -> dict[str, str]:
    """Return every sentence by its key (`topic.name`), with `{name}` or `{name:.2f}` where a figure stands."""
    return {
        f"{entry.name.removesuffix('.toml')}.{name}": sentence
        for entry in files(__name__).joinpath(language).iterdir()
        if entry.name.endswith(".toml")
        for name, sentence in tomllib.loads(entry.read_text(encoding="utf-8")).items()
    }


def words(message: Message, language: str = LANGUAGE) -> str:
    """Return a message in words: lengths stand in mm there, for whoever shows them to write in their own unit."""
    return catalogue(language)[message.key].format(**message.values).replace(" -", " −")
