"""What listening says on the screen and aloud: events of the services as sentences in the visitor's own language."""

from typing import Any

from starlette.requests import HTTPConnection

from breakangle.drawings.look import Drawing, Look
from breakangle.listening.stream import Take
from breakangle.model.words.speech import tr
from breakangle.services.listening.buzzes import HeardBuzz
from breakangle.services.listening.live import AsksFor, Began, HeardTake, LiveListening, Sounding, Told
from breakangle.services.listening.notes import Note, note_name
from breakangle.services.listening.stretch_cycle import settle_string
from breakangle.services.listening.strokes import PlayedStroke
from breakangle.services.listening.watched_settling import SettleTold, SettleWatch
from breakangle.services.plans.charts import pitch_chart
from breakangle.web.render import Shown, rendered
from breakangle.web.texts import words
from breakangle.web.visitor import visitor_of

Said = dict[str, Any]
SMALL = Look(width=420.0, text=13.0)


def doubt_of(uncertainty_cents: float) -> float:
    """Return how sure a pitch is told to be, in cents: twice its standard uncertainty, never better than a tenth."""
    return max(2.0 * uncertainty_cents, 0.1)


class Speaker:
    """Says what was heard, for one visitor."""

    def __init__(self, connection: HTTPConnection) -> None:
        """Keep who listens."""
        self.connection, self.visitor = connection, visitor_of(connection)
        self.show = Shown(self.visitor)

    def say(self, name: str, /, **given: Any) -> str:
        """Return the words called `listen.name`."""
        return words(f"listen.{name}", **given)

    # -- single figures ---------------------------------------------------------------------------------

    def cents(self, cents: float, uncertainty_cents: float) -> str:
        """Return such as `3.2 cents sharp`, no finer than it is sure."""
        decimals = 1 if uncertainty_cents < 1 else 0
        size = self.show.number(abs(cents), decimals)
        if abs(cents) < uncertainty_cents < 1:
            return self.say("in_tune")
        if round(abs(cents), decimals) == 0:
            return self.say("about_in_tune")
        return self.say("sharp" if cents > 0 else "flat", cents=size)

    def sure(self, uncertainty_cents: float) -> str:
        """Return such as `sure to 0.2`."""
        return self.say("sure", cents=self.show.number(uncertainty_cents, 1 if uncertainty_cents < 1 else 0))

    def note(self, note: Note) -> str:
        """Return such as `String 6, at the 12th fret`."""
        return self.say(f"note_{note.kind}", string=note.string, fret=note.fret)

    def full_note(self, note: Note, live: LiveListening) -> str:
        """Return the note with its name, such as `String 6, open · E2`."""
        opened = next(one.open_hz for one in live.strings if one.number == note.string)
        name = note_name(opened * (2 if note.fret else 1), live.reference_hz)
        return f"{self.note(note)} · {name}"

    # -- events -----------------------------------------------------------------------------------------

    def told(self, told: Told, live: LiveListening) -> Said:
        """Return one of the services's events as the page takes it."""
        if isinstance(told, Began):
            return {"event": "began"}
        if isinstance(told, AsksFor):
            return self.asks(told, live)
        if isinstance(told, Sounding):
            return self._rings(told, live)
        return self._take(told, live)

    def asks(self, told: AsksFor, live: LiveListening) -> Said:
        """Return what is to be played next."""
        count = self.say("count", heard=told.heard_count, wanted=told.wanted_count)
        if told.note is None:
            return {"event": "asks", "words": self.say("all_heard"), "count": count, "done": True}
        words_ = self.full_note(told.note, live)
        return {"event": "asks", "words": words_, "count": count, "say": self.note(told.note), "done": False}

    def _rings(self, told: Sounding, live: LiveListening) -> Said:
        if told.note is None or told.cents is None:
            near = self.say("near", note=note_name(told.hz, live.reference_hz))
            return {"event": "rings", "note": near, "words": "", "sure": "", "cents": None}
        return self.ringing(self.full_note(told.note, live), told.cents, told.uncertainty_cents)

    def ringing(self, note: str, cents: float, uncertainty_cents: float) -> Said:
        """Return what rings now, for the large figure and the ruler."""
        shown = doubt_of(uncertainty_cents)
        return {
            "event": "rings",
            "note": note,
            "words": self.cents(cents, shown),
            "sure": self.sure(shown),
            "cents": round(cents, 2),
            "uncertainty": round(shown, 2),
        }

    def _take(self, heard: HeardTake, live: LiveListening) -> Said:
        pitch = heard.take.pitch
        note = None if heard.note is None else self.full_note(heard.note, live)
        figure = ""
        if pitch is not None and heard.cents is not None:
            figure = self.figure(heard.cents, pitch.uncertainty_cents)
        hz = None if heard.note is None else self._note_hz(heard.note, live)
        played = f"{self.pluck(heard.stroke)} {self.buzz(heard.buzz)}".strip()
        html = take_part(self.connection, heard.take, note, figure, heard.outcome, hz, played)
        told = self.say(f"take_{heard.outcome}", note=note or "", figure=figure)
        if heard.outcome in ("again", "unknown"):
            told = f"{told} {self.reason(heard.take)}"
        elif heard.outcome == "elsewhere" and pitch is not None:
            told = f"{told} {self.say('near', note=note_name(pitch.law.partial_one_hz, live.reference_hz))}."
        can_keep = heard.outcome == "again" and heard.take.verdict.value == "doubtful"
        return {"event": "take", "outcome": heard.outcome, "words": told, "html": html, "can_keep": can_keep}

    def _note_hz(self, note: Note, live: LiveListening) -> float:
        opened = next(one.open_hz for one in live.strings if one.number == note.string)
        return opened * (2 if note.fret else 1)

    def figure(self, cents: float, uncertainty_cents: float) -> str:
        """Return such as `3.2 cents sharp, sure to 0.2`."""
        shown = doubt_of(uncertainty_cents)
        return f"{self.cents(cents, shown)}, {self.sure(shown)}"

    def pluck(self, stroke: PlayedStroke | None) -> str:
        """Return how far the string was pulled and where; as it is told beside a take."""
        if stroke is None:
            return ""
        low, middle, high = (
            self.show.length(mm)
            for mm in (stroke.stroke.low_mm, stroke.stroke.height_mm, stroke.stroke.high_mm)
        )
        if not stroke.stroke.sure:
            return self.say("pluck_below", high=high)
        toward = self.show.length(stroke.toward_low_mm), self.show.length(stroke.toward_high_mm)
        at = self.show.length(float(round(stroke.point_mm)))
        told = self.say("pluck", middle=middle, low=low, high=high, at=at)
        return f"{told} {self.say('pluck_toward', low=toward[0], high=toward[1])}"

    def buzz(self, heard: HeardBuzz | None) -> str:
        """Return how a note buzzes, on which crown, and where that stops; empty where it does not."""
        if heard is None:
            return ""
        told = self.say(f"buzz_{heard.how}", seconds=self.show.number(heard.buzz.stops_s, 1))
        if heard.crown is None or heard.place is None:
            return f"{told} {self.say('buzz_nowhere')}"
        chance = self.show.number(100 * heard.place.chances[0], 0)
        told = f"{told} {self.say('buzz_crown', fret=heard.crown, chance=chance)}"
        return (
            told
            if heard.gap_mm is None
            else f"{told} {self.say('buzz_stops', gap=self.show.length(heard.gap_mm))}"
        )

    def reason(self, take: Take) -> str:
        """Return the first thing wrong with a take, as a sentence with what to do."""
        found = next((one for one in take.reasons if one.refuses), take.reasons[0] if take.reasons else None)
        if found is None:
            return ""
        return f"{found.words[:1].upper()}{found.words[1:]}: {found.remedy}."

    def settles(self, told: SettleTold, watch: SettleWatch) -> Said:
        """Return how a string settles, or what of it rings."""
        note = self.say("string", string=watch.string)
        if told.take is None:
            assert told.cents is not None
            assert told.uncertainty_cents is not None
            return self.ringing(note, told.cents, told.uncertainty_cents)
        if not told.used or told.settling is None:
            return {"event": "take", "outcome": "again", "words": f"{self.say('take_again', note=note)} "
                    f"{self.reason(told.take)}", "html": "", "can_keep": False}  # fmt: skip
        return self.settling(watch)

    def settling(self, watch: SettleWatch) -> Said:
        """Return the row of drifts so far, how many more stretches it will likely take, and whether it is done."""
        found = watch.settling
        drifts = [self._drift(number, drift) for number, drift in enumerate(found.drift_cents, 1)]
        key = "settled" if found.settled else "stretch" if watch.heard_hz else "settle_first"
        told = self.say(key, note=self.say("string", string=watch.string))
        return {
            "event": "settling",
            "string": watch.string,
            "words": told if found.settled else f"{told} {self._left(watch)}".strip(),
            "drifts": drifts,
            "heard_hz": [round(one, 4) for one in watch.heard_hz],
            "done": found.settled,
        }

    def _left(self, watch: SettleWatch) -> str:
        """Return how many more stretches the string likely needs; nothing before its first."""
        remaining = settle_string(watch.string, watch.settling.drift_cents).remaining
        if remaining is None:
            return ""
        key = "stretches_left" if remaining.low < remaining.high else "stretches_left_sure"
        return self.say(key, likely=remaining.likely, low=remaining.low, high=remaining.high)

    def _drift(self, number: int, drift: float) -> str:
        way = "drift_none" if abs(drift) < 0.1 else "drift_up" if drift > 0 else "drift_down"
        return self.say(way, number=number, cents=self.show.number(abs(drift), 1))


def take_part(
    connection: HTTPConnection,
    take: Take,
    note: str | None,
    figure: str,
    outcome: str,
    note_hz: float | None,
    pluck: str = "",
) -> str:
    """Return one take as a part of a page: what it is, its verdict, the reasons, and its pitch over time."""
    drawing = curve(take, note_hz, note or "")
    return rendered(
        connection,
        "_take.html",
        take=take,
        note=note,
        figure=figure,
        outcome=outcome,
        drawing=drawing,
        pluck=pluck,
    )


def curve(take: Take, note_hz: float | None, title: str) -> Drawing | None:
    """Return a take's pitch over time; None where nothing was measured."""
    if take.pitch is None:
        return None
    hz = take.pitch.law.partial_one_hz if note_hz is None else note_hz
    return pitch_chart(take.pitch, hz, title=title or tr("Pitch over time"), look=SMALL)
