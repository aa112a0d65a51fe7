"""Blocks in, events out: one listener for a live microphone and for a file."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.capture.onsets import Edge, OnsetFinder
from breakangle.listening.naming.naming import Asked, Name, OpenString, name_row
from breakangle.listening.pitch.measure import START_S, Pitch, measure
from breakangle.listening.takes.judge import LONGEST_S, Judged, judge
from breakangle.listening.takes.reasons import Reason, Verdict, reason

FloatArray = NDArray[np.float64]

# Where nothing else is said below: chosen; no source; `python -m bench listening_honesty` tells what it costs.
FIRST_TRIES_S = (0.065, 0.1, 0.15, 0.22)
FIRST_SKIP_S = 0.012
PERIODS_NEEDED = 4.5
STEADY_S = 1.0
MOST_NAMED = 72
MOST_BROKEN = 1000  # places of missing samples that are remembered; chosen
KEPT_S = START_S + LONGEST_S + 0.1


@dataclass(frozen=True)
class Take:
    """One pluck, judged.

    Attributes:
        start_s: time of the pluck in the stream.
        end_s: time its sound ends.
        pitch: what was measured; None when nothing could be.
        reasons: everything wrong with it.
        window_s: piece used, in seconds after the pluck.
    """

    start_s: float
    end_s: float
    judged: Judged

    @property
    def pitch(self) -> Pitch | None:
        """What was measured; None when nothing could be."""
        return self.judged.pitch

    def doubted(self, one: Reason) -> "Take":
        """The take with one more reason."""
        return replace(self, judged=replace(self.judged, reasons=(*self.judged.reasons, one)))

    @property
    def verdict(self) -> Verdict:
        """Good, doubtful or refused."""
        return self.judged.verdict

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Everything wrong with the take."""
        return self.judged.reasons


@dataclass(frozen=True)
class TakeBegan:
    """A pluck was heard at `start_s`."""

    start_s: float


@dataclass(frozen=True)
class FirstReading:
    """A first idea of the pitch, good to a few cents, `after_s` after the pluck."""

    start_s: float
    after_s: float
    pitch_hz: float
    uncertainty_cents: float


@dataclass(frozen=True)
class SteadyReading:
    """A reading good enough to write down, one second into the note."""

    start_s: float
    after_s: float
    pitch_hz: float
    uncertainty_cents: float


@dataclass(frozen=True)
class TakeJudged:
    """The sound has ended, or was long enough: the take with its verdict."""

    take: Take


@dataclass(frozen=True)
class Named:
    """The `index`-th take has a name, or a new one now that more has been heard."""

    index: int
    name: Name


Event = TakeBegan | FirstReading | SteadyReading | TakeJudged | Named


class Listener:
    """Turns blocks of samples into events; keeps at most a little over three seconds of sound."""

    def __init__(
        self,
        rate_hz: float,
        live: bool = True,
        strings: Sequence[OpenString] = (),
        asked: Sequence[Asked] | None = None,
        longest_s: float | None = None,
    ) -> None:
        """Begin listening.

        Args:
            rate_hz: samples a second.
            live: whether first and steady readings are wanted too.
            strings: the instrument's strings; without them takes get no names.
            asked: the order in which notes are asked for, if there is one.
            longest_s: how much of a ringing take is waited for before it is judged; None waits for its end.
        """
        self.rate_hz = rate_hz
        self._enough = round(min(longest_s or KEPT_S, KEPT_S) * rate_hz)
        self._waits = longest_s is None
        self.live = live
        self._strings, self._asked = strings, asked
        self._row: list[float | None] = []
        self._names: list[Name | None] = []
        self._finder = OnsetFinder(rate_hz, room_first=live)
        self._take = np.zeros(round(KEPT_S * rate_hz))
        self._kept = 0
        self._start = -1
        self._seen = 0
        self._tries = 0
        self._steady = False
        self._tail = np.zeros(0)
        self._broken: list[int] = []

    def push(self, block: FloatArray) -> list[Event]:
        """Events in the next samples, mono, full scale 1, shape (samples,)."""
        block = self._whole(np.asarray(block, dtype=float))
        events: list[Event] = []
        base = self._seen - len(self._tail)
        sound = np.concatenate([self._tail, block])
        done = len(self._tail)
        for edge in self._finder.push(block):
            at = max(edge.sample - base, 0)
            events += self._keep(sound[done : max(at, done)])
            events += self._edge(edge)
            if edge.begins and at < done:
                events += self._keep(sound[at:done])
            done = max(at, done)
        events += self._keep(sound[done:])
        self._seen += len(block)
        self._tail = sound[-2 * self._finder.hop :]
        return events

    def _whole(self, block: FloatArray) -> FloatArray:
        """The block with what is no number as silence; the take it falls into is refused, and the next one heard."""
        broken = ~np.isfinite(block)
        if not broken.any():
            return block
        first, *_, last = np.flatnonzero(broken).repeat(2).tolist()
        self._broken = [*self._broken[-MOST_BROKEN:], self._seen + first, self._seen + last]
        return np.where(broken, 0.0, block)

    def finish(self) -> list[Event]:
        """Events left over at the end of the stream."""
        return [*self._end(self._seen), *self._name(finished=True)]

    def _edge(self, edge: Edge) -> list[Event]:
        """A pluck begins or a sound ends."""
        if not edge.begins:
            return self._end(edge.sample)
        self._start, self._kept, self._tries, self._steady = edge.sample, 0, 0, False
        self._broken = [at for at in self._broken if at >= edge.sample]
        return [TakeBegan(edge.sample / self.rate_hz)]

    def _end(self, at: int) -> list[Event]:
        """The take so far, judged, if there is one."""
        if self._start < 0:
            return []
        start, self._start = self._start, -1
        count = max(0, min(self._kept, at - start))
        judged = judge(self._take[:count], self.rate_hz)
        if any(start <= broken < at for broken in self._broken):
            judged = replace(judged, reasons=(*judged.reasons, reason("gap", True)))
        if start == 0 and judged.pitch is None:
            return []  # the room before the first pluck, not a take
        self._row.append(judged.pitch.law.partial_one_hz if judged.pitch else None)
        self._names.append(None)
        take = Take(start / self.rate_hz, at / self.rate_hz, judged)
        return [TakeJudged(take), *self._name(finished=False)]

    def _name(self, finished: bool) -> list[Event]:
        """Names that are new or have changed, the last takes named as one row."""
        if not self._strings or not self._row:
            return []
        first = max(0, len(self._row) - MOST_NAMED)
        events: list[Event] = []
        names = name_row(self._row[first:], self._strings, self._asked, finished)
        for index, name in enumerate(names, start=first):
            if name is not None and name != self._names[index]:
                self._names[index] = name
                events.append(Named(index, name))
        return events

    def _keep(self, samples: FloatArray) -> list[Event]:
        """Add samples to the take, as far as they are needed, and read when it is time."""
        if self._start < 0:
            return []
        room = len(self._take) - self._kept
        taken = samples[:room]
        self._take[self._kept : self._kept + len(taken)] = taken
        self._kept += len(taken)
        events = self._read() if self.live else []
        if not self._waits and self._kept >= self._enough:
            events += self._end(self._start + self._kept)
        return events

    def _read(self) -> list[Event]:
        """First and steady readings that have come due."""
        events: list[Event] = []
        length_s = self._kept / self.rate_hz
        due = self._tries < len(FIRST_TRIES_S) and length_s >= FIRST_TRIES_S[self._tries]
        if due:
            first = self._first(length_s)
            self._tries = len(FIRST_TRIES_S) if first else self._tries + 1
            events += [first] if first else []
        if not self._steady and length_s >= START_S + STEADY_S:
            self._steady = True
            window = self._take[round(START_S * self.rate_hz) : self._kept]
            pitch = measure(window, self.rate_hz, START_S)
            if pitch is not None:
                hz, spread = pitch.law.partial_one_hz, pitch.uncertainty_cents
                events.append(SteadyReading(self._start / self.rate_hz, length_s, hz, spread))
        return events

    def _first(self, length_s: float) -> FirstReading | None:
        """A first reading, if enough periods of the note have been heard."""
        sound = self._take[round(FIRST_SKIP_S * self.rate_hz) : self._kept]
        pitch = measure(sound, self.rate_hz, FIRST_SKIP_S, settle=False)
        if pitch is None or pitch.coarse.periodic_ratio < 0.8:
            return None
        hz = pitch.law.partial_one_hz
        if (length_s - FIRST_SKIP_S) * hz < PERIODS_NEEDED:
            return None
        spread = float(np.hypot(pitch.uncertainty_cents, 1.0))
        return FirstReading(self._start / self.rate_hz, length_s, hz, spread)


def listen(blocks: Iterable[FloatArray], rate_hz: float, live: bool = False) -> Iterator[Event]:
    """Events of a whole recording, block by block."""
    listener = Listener(rate_hz, live)
    for block in blocks:
        yield from listener.push(block)
    yield from listener.finish()


def takes_in(samples: FloatArray, rate_hz: float) -> list[Take]:
    """All takes in samples held in memory, in order."""
    size = max(1, round(0.5 * rate_hz))
    blocks = (samples[at : at + size] for at in range(0, len(samples), size))
    return [event.take for event in listen(blocks, rate_hz) if isinstance(event, TakeJudged)]
