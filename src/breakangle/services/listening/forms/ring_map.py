"""How long every note rings along the neck, with dead notes marked: the decay map."""

from collections.abc import Iterable

from breakangle.drawings.charts.dots import Axes, Series
from breakangle.listening.takes.reasons import Verdict
from breakangle.model.words.speech import tr
from breakangle.services.listening.decays import DeadNote, Ringing, dead_notes, ringing_of
from breakangle.services.listening.forms.form import Answer
from breakangle.services.listening.takes import Listened


def ring_map(heard: Listened) -> Answer:
    """Return how long each note rings, by string and fret, of the takes that were not refused."""
    usable = [one for one in heard.takes if one.take.verdict is not Verdict.REFUSED]
    rings = ringing_of((one.take.pitch, one.name) for one in usable)
    return answer_of(rings, dead_notes(rings))


def answer_of(rings: Iterable[Ringing], dead: Iterable[DeadNote]) -> Answer:
    """Return the map of these notes, dead ones marked."""
    every, short = list(rings), list(dead)
    data = {
        "format": "breakangle/rings/1",
        "notes": [
            {"string": one.string, "fret": one.fret, "rings_s": round(one.seconds, 2)} for one in every
        ],
        "dead_notes": [one.to_json() for one in short],
    }
    if not every:
        return Answer((tr("No named note was heard that rings long enough to tell."),), data, usable=False)
    words = [one.words() for one in short]
    if not words:
        words = [tr("No dead note among {notes_count} notes heard", notes_count=len(every))]
    series = []
    for string in sorted({one.string for one in every}):
        own = [one for one in every if one.string == string]
        marked = frozenset(float(one.fret) for one in short if one.string == string)
        name = tr("string {string}", string=string)
        places = tuple(float(one.fret) for one in own)
        series.append(Series(name, places, tuple(one.seconds for one in own), marked))
    axes = Axes(tr("How long each note rings"), tr("fret"), tr("seconds to fall by 60 dB"))
    return Answer(tuple(words), data, tuple(series), axes)
