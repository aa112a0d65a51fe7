"""Watching a new string settle: pluck, stretch, pluck again, until stretching moves it no more."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log2

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.naming.settling import Settling, settling
from breakangle.listening.stream import FirstReading, Listener, SteadyReading, Take, TakeJudged
from breakangle.listening.takes.reasons import Verdict
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr
from breakangle.services.listening.live import LONGEST_S
from breakangle.services.listening.takes import open_strings
from breakangle.services.visits.entries import service_of
from breakangle.storage.records.store import Shop

FloatArray = NDArray[np.float64]
# A new string may be far from its note; farther is another string. Common practice, no source.
FARTHEST_CENTS = 350.0
MOST_STRETCHES = 40


@dataclass(frozen=True)
class SettleTold:
    """What there is to tell: the pitch that rings, cents from the note, how sure; after a take, how it settles.

    `take` is None while the string still rings; `used` says whether that take counts as one more stretch.
    """

    hz: float | None
    cents: float | None
    uncertainty_cents: float | None
    take: Take | None = None
    used: bool = False
    settling: Settling | None = None


class SettleWatch:
    """One string, plucked once before the first stretch and once after each."""

    def __init__(
        self, shop: Shop, visit_id: str, rate_hz: float, string: int, heard_hz: Sequence[float] = ()
    ) -> None:
        """Begin to watch, or go on after `heard_hz`.

        Raises:
            CorrectInputError: the instrument has no such string, or there were too many plucks before.
            NoSuchRecordError: no such visit.
        """
        service = service_of(shop, visit_id)
        strings = {one.number: one for one in open_strings(service.instrument_now(), service.reference_hz)}
        if string not in strings:
            raise CorrectInputError(
                tr("string {string}", string=string),
                tr("this instrument has strings 1 to {strings_count}", strings_count=len(strings)),
            )
        if len(heard_hz) > MOST_STRETCHES:
            raise CorrectInputError(
                tr("{heard_hz_count} plucks", heard_hz_count=len(heard_hz)),
                tr("at most {most_stretches} are kept", most_stretches=MOST_STRETCHES),
                tr("begin anew"),
            )
        self.string, self.open_hz = string, strings[string].open_hz
        self.heard_hz = [one for one in heard_hz if abs(self._cents(one)) <= FARTHEST_CENTS]
        self._listener = Listener(rate_hz, longest_s=LONGEST_S)

    def _cents(self, hz: float) -> float:
        return 1200 * log2(hz / self.open_hz)

    @property
    def settling(self) -> Settling:
        """How the string has settled so far."""
        return settling([[one] for one in self.heard_hz])

    def push(self, block: FloatArray) -> list[SettleTold]:
        """Return what there is to tell after the next samples, mono, full scale 1."""
        told: list[SettleTold] = []
        for event in self._listener.push(block):
            if isinstance(event, FirstReading | SteadyReading):
                told.append(SettleTold(event.pitch_hz, self._cents(event.pitch_hz), event.uncertainty_cents))
            elif isinstance(event, TakeJudged):
                told.append(self._judged(event.take))
        return told

    def _judged(self, take: Take) -> SettleTold:
        """Add the take to the row unless it was refused or is another string's."""
        if take.pitch is None or take.verdict is Verdict.REFUSED:
            return SettleTold(None, None, None, take)
        hz, spread = take.pitch.law.partial_one_hz, take.pitch.uncertainty_cents
        used = abs(self._cents(hz)) <= FARTHEST_CENTS and len(self.heard_hz) < MOST_STRETCHES
        if used:
            self.heard_hz.append(hz)
        return SettleTold(hz, self._cents(hz), spread, take, used, self.settling)
