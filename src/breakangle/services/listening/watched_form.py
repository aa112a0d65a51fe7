"""Live, beside the guided notes: a slide, a strum, taps, one fret checked, every string played hard."""

from collections import deque
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.capture.onsets import OnsetFinder
from breakangle.listening.stream import Listener, Take, TakeJudged
from breakangle.listening.takes.reasons import Verdict
from breakangle.model.errors import CorrectInputError
from breakangle.model.reading import Reading
from breakangle.model.words.speech import tr
from breakangle.services.listening.buzzes import buzz_readings, heard_buzz
from breakangle.services.listening.forms.form import Answer
from breakangle.services.listening.forms.slide import slide_in
from breakangle.services.listening.forms.strum import strum_in
from breakangle.services.listening.forms.taps import taps_of
from breakangle.services.listening.live import LONGEST_S
from breakangle.services.listening.notes import Note
from breakangle.services.listening.strokes import PlayedStroke, board_for, played_stroke
from breakangle.services.visits.entries import service_of, take_reading
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

FloatArray = NDArray[np.float64]
Mode = Literal["slide", "strum", "taps", "check", "hard"]
# Chosen: how long is waited, how much sound is held at most from the first pluck on, and how much before it.
QUIET_S, STRUM_S, MOST_S, BEFORE_S = 1.0, 3.3, 60.0, 1.0
TAPS = 6


@dataclass(frozen=True)
class FormTold:
    """What there is to tell: an answer, or what a single pluck told in words; `good` where it can be used."""

    words: tuple[str, ...]
    good: bool
    answer: Answer | None = None
    stored_count: int = 0


class FormWatch:
    """One form, heard as it is played."""

    def __init__(self, shop: Shop, visit_id: str, rate_hz: float, mode: Mode, string: int, fret: int) -> None:
        """Begin to listen.

        Raises:
            CorrectInputError: the instrument has no such string or fret.
            NoSuchRecordError: no such visit.
        """
        self._service = service_of(shop, visit_id)
        instrument = self._service.instrument_now()
        if not 1 <= string <= len(instrument.strings) or not 0 <= fret <= instrument.frets:
            raise CorrectInputError(
                tr("string {string}, fret {fret}", string=string, fret=fret),
                tr(
                    "strings 1 to {count}, frets 0 to {frets}",
                    count=len(instrument.strings),
                    frets=instrument.frets,
                ),
            )
        self._shop, self._visit_id, self.rate_hz, self.mode = shop, visit_id, rate_hz, mode
        self.string = len(instrument.strings) if mode == "hard" else string
        self.fret = 0 if mode == "hard" else fret
        self._board = board_for(self._service)
        self._single = mode in ("check", "hard")
        self.done = False
        self._anew()

    def _anew(self) -> None:
        self._finder = OnsetFinder(self.rate_hz, room_first=True)
        self._listener = Listener(self.rate_hz, live=False, longest_s=LONGEST_S)
        self._blocks: deque[FloatArray] = deque()
        self._held = self._count = self._begins = self._first = self._last = 0
        self._ringing = False

    @property
    def asked(self) -> str:
        """What is to be played now."""
        if self.mode == "slide":
            return tr(
                "String {string}: pluck it open, slide up, rest half a second at each fret; pluck anew when faint",
                string=self.string,
            )
        if self.mode == "strum":
            return tr("Strum all open strings once, and let them ring for three seconds")
        if self.mode == "taps":
            return tr(
                "Damp the strings and tap the bridge with a knuckle, {taps} times, half a second apart",
                taps=TAPS,
            )
        note = tr("fret {fret}", fret=self.fret) if self.fret else tr("open")
        return tr(
            "String {string}, {note}: pluck it as hard as it is ever played", string=self.string, note=note
        )

    def push(self, block: FloatArray, stamp: Stamp) -> list[FormTold]:
        """Return what there is to tell after the next samples, mono, full scale 1; what is sure is stored."""
        if self.done:
            return []
        if self._single:
            events = self._listener.push(block)
            return [self._plucked(one.take, stamp) for one in events if isinstance(one, TakeJudged)]
        self._blocks.append(block)
        for edge in self._finder.push(block):
            self._ringing = edge.begins
            self._first = self._first or edge.sample
            self._begins += edge.begins
            self._last = edge.sample
        self._count += len(block)
        self._held += len(block)
        if not self._begins:
            self._let_go()
        return self.finish(stamp) if self._over() else []

    def _let_go(self) -> None:
        """Keep the last of the room only, as long as nothing was played."""
        while self._held - len(self._blocks[0]) > BEFORE_S * self.rate_hz:
            self._held -= len(self._blocks.popleft())

    def _over(self) -> bool:
        """Whether what was asked for has been played."""
        quiet = not self._ringing and self._count - self._last > QUIET_S * self.rate_hz
        if not self._begins:
            return False
        if self._count - self._first > MOST_S * self.rate_hz:
            return True
        if self.mode == "strum":
            return quiet or self._count - self._first > STRUM_S * self.rate_hz
        return quiet and (self.mode != "taps" or self._begins >= TAPS)

    def finish(self, stamp: Stamp) -> list[FormTold]:
        """Return what was heard so far; nothing where nothing was played."""
        if self._single or not self._begins:
            return []
        sound = np.concatenate(self._blocks)
        self._anew()
        if self.mode == "slide":
            answer = slide_in(sound, self.rate_hz, self._service, self.string)
        elif self.mode == "strum":
            answer = strum_in(sound, self.rate_hz, self._service)
        else:
            answer = taps_of(sound, self.rate_hz, self._service)
        return [FormTold(answer.words, answer.usable, answer, self._store(answer.readings, stamp))]

    def _store(self, readings: tuple[Reading, ...], stamp: Stamp) -> int:
        for one in readings:
            take_reading(self._shop, self._visit_id, one.model_dump(mode="json", exclude={"after"}), stamp)
        return len(readings)

    def _plucked(self, take: Take, stamp: Stamp) -> FormTold:
        """What one hard pluck told: how far it was pulled, and whether and where it buzzes."""
        note = Note(self.string, self.fret)
        stroke = played_stroke(take.pitch, note, self._service, self._board)
        buzz = heard_buzz(take, note, stroke, self._service, self._board)
        if take.pitch is None or (take.verdict is Verdict.REFUSED and buzz is None):
            return FormTold((self.asked, *map(str, take.reasons[:1])), False)
        place = tr("fret {fret}", fret=self.fret) if self.fret else tr("open")
        told = [
            buzz.words()
            if buzz is not None
            else tr("String {string}, {place}: no buzz", string=self.string, place=place)
        ]
        if stroke is not None:
            told.append(_height(stroke))
        stored = self._store(tuple(buzz_readings([buzz], 0)), stamp)
        if self.mode == "hard":
            self.done = self.string == 1
            self.string = max(self.string - 1, 1)
        return FormTold(tuple(told), True, None, stored)


def _height(stroke: PlayedStroke) -> str:
    one = stroke.stroke
    if not one.sure:
        return tr(
            "plucked softly: less than {mm:.1f} mm ({mm_2:.3f} in)", mm=one.high_mm, mm_2=one.high_mm / 25.4
        )
    return tr("plucked {mm:.1f} mm ({mm_2:.3f} in)", mm=one.height_mm, mm_2=one.height_mm / 25.4)
