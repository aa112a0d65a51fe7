"""The words of messages, a file for each topic, with the places where their figures stand; translated as all words."""

import tomllib
from functools import cache
from importlib.resources import files

from breakangle.model.plan import Note
from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr, tr_key

FOLDER = "en"
NAMED = frozenset({"strength", "hand", "name", "what"})  # values that are keys and words at once


@cache
def catalogue() -> dict[str, str]:
    """Return every English sentence by its key (`topic.name`), with `{name}` or `{name:.2f}` where a figure stands."""
    return {
        f"{entry.name.removesuffix('.toml')}.{name}": sentence
        for entry in files(__name__).joinpath(FOLDER).iterdir()
        if entry.name.endswith(".toml")
        for name, sentence in tomllib.loads(entry.read_text(encoding="utf-8")).items()
    }


def words(message: Message) -> str:
    """Return a message in the language spoken: lengths stand in mm, for whoever shows them to write in their unit."""
    sentence = tr_key(message.key, catalogue()[message.key])
    values = {name: tr(str(one)) if name in NAMED else one for name, one in message.values.items()}
    return sentence.format(**values).replace(" -", " −")


def noted(message: Message) -> Note:
    """Return a message as a note of a plan, which is looked for by its key."""
    return Note(key=message.key, words=words(message))
