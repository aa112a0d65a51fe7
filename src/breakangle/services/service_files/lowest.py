"""How low an instrument can go, and how low it is to be set: what every door calls, so that all say one figure."""

from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.planning.buzz.buzz_map import NOT_MODELLED
from breakangle.planning.buzz.lowest import (
    Programme,
    furthest,
    levelled,
    programme,
    saddle_levers,
    trade_reliefs,
)
from breakangle.planning.buzz.set_up import Lowest, Offer, present
from breakangle.planning.buzz.usual_action import least_usual_mm
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.solve.lever_limits import with_travel_left
from breakangle.planning.verdict.crowns import with_crowns_as_read
from breakangle.planning.verdict.judgement import Judgement
from breakangle.reference.messages import words
from breakangle.reference.strength import Playing
from breakangle.services.service_files.bowed import bowed, lower_later, reads_more_mm, relief_wanted
from breakangle.services.service_files.buzz import judged, playing_of

# Where nothing else is said below: common practice, no source.
WORTH_LEVELLING_MM, HAND_MM = 0.03, 0.005
RAISED_MM = 0.02  # so much too low, and a nut or a saddle is said to be
Array = NDArray[np.float64]


@dataclass(frozen=True)
class LowestReport:
    """How low this neck can go at a strength: now, lowest, with crowns levelled, against relief.

    `lowest`, `levelled` and `trade` are where nothing is heard, however low that is; `to_set`, `levelled_to_set` and
    `trade_to_set` what is offered: no string lower than `least_usual_mm` (S,), the lowest that anybody sets this kind
    to (nothing where the shop's ear decides). `relief_reach` is what this rod can give, None without one; `judgement`
    the plan's of the same readings: what stands in the way of going lower. `saddle_up_mm` (S,): how far a saddle rises.
    `trade` and `trade_to_set` are worked out when they are first asked for.
    """

    service: Service
    strength: str
    height_mm: float
    margin_mm: float
    now: Lowest
    lowest: Lowest
    to_set: Lowest
    offer: Offer
    levelled_frets: tuple[int, ...]
    levelled: Lowest | None
    levelled_to_set: Lowest | None
    relief_reach: tuple[float, float] | None
    saddle_up_mm: Array
    judgement: Judgement
    playing: Playing

    @cached_property
    def trade(self) -> tuple[Lowest, ...]:
        """Return where nothing is heard at each relief that this rod gives, however low; none without a rod.

        Raises:
            CorrectInputError: nothing is free of buzz at one of them.
        """
        asked = self._programme()
        return tuple(asked.lowest(one) for one in self._reliefs)

    @cached_property
    def trade_to_set(self) -> tuple[Lowest, ...]:
        """Return what is offered at each relief that this rod gives; none without a rod.

        Raises:
            CorrectInputError: nothing is free of buzz at one of them.
        """
        asked = self._programme()
        return tuple(asked.offered(self.offer, one) for one in self._reliefs)

    @property
    def _reliefs(self) -> tuple[float, ...]:
        return () if self.relief_reach is None else trade_reliefs(self.relief_reach)

    def _programme(self) -> Programme:
        """Return the programme, made again: its rows are large, and reports are kept."""
        return programme(self.now.picture, self.playing, self.strength, self.margin_mm)

    @property
    def least_usual_mm(self) -> Array:
        """Return the lowest action that anybody sets this kind to, mm (S,); 0 where the shop's ear decides."""
        return self.offer.least_mm

    @property
    def lowest_string(self) -> int:
        """Return the string at the bass edge that begins at the nut: no short one beside it, which sounds high."""
        strings = self.service.instrument_now().in_order()
        return next((one.string for one in reversed(strings) if one.nut_at_fret == 0), len(strings))

    @property
    def in_the_way(self) -> tuple[str, ...]:
        """Return what is to be answered before the strings go lower, in words; empty where nothing is."""
        return tuple(words(one) for one in lower_later(self.judgement, self.relief_reach))

    @property
    def strengths_own(self) -> bool:
        """Return whether the shop set its strengths of play by its own ear."""
        return self.judgement.played is not None and self.judgement.played.own

    @property
    def to_set_mm(self) -> Array:
        """Return the action to set, mm (S,): nothing is heard, and it is no lower than anybody sets this kind."""
        return self.to_set.action_mm

    @property
    def below_usual(self) -> bool:
        """Return whether some string is held up by no note, but because nobody sets it lower."""
        return bool(self.to_set.at_usual)

    @property
    def levelling_gain_mm(self) -> float:
        """How much lower the action could be set with the high crowns levelled, mm, mean over the strings."""
        if self.levelled_to_set is None:
            return 0.0
        return float(np.mean(self.to_set.action_mm - self.levelled_to_set.action_mm))

    @property
    def rod_at_end(self) -> bool:
        """Return whether the rod keeps relief from coming lower: a neck that is straight comes no lower anyway."""
        if self.relief_reach is None:
            return False
        return self.relief_reach[0] > HAND_MM and self.to_set.relief_mm < self.relief_reach[0] + HAND_MM

    @property
    def bowed_past_rod(self) -> bool:
        """Return whether the neck stays bowed too far for a saddle to be cut: then it is said to be in the way."""
        return bowed(self.judgement, self.relief_reach) is not None

    @property
    def nut_short_mm(self) -> Array:
        """Return by how much each nut slot is too deep for its open string, mm, (S,)."""
        return np.maximum(self.to_set.nut_raised_mm, 0.0)

    @property
    def nut_too_low(self) -> tuple[int, ...]:
        """Return the strings whose slots are too deep: nothing files a slot up."""
        return _strings(self.nut_short_mm > RAISED_MM)

    @property
    def saddle_too_low(self) -> tuple[int, ...]:
        """Return the strings whose saddle would have to rise further than it goes."""
        return _strings(self.to_set.saddle_raised_mm > self.saddle_up_mm + RAISED_MM)

    def to_json(self) -> dict[str, Any]:
        """The report as plain data."""
        return {
            "format": "breakangle/lowest/1",
            "instrument": self.service.instrument.name,
            "strength": self.strength,
            "pluck_height_mm": self.height_mm,
            "margin_mm": self.margin_mm,
            "strengths_own": self.strengths_own,
            "verdict": self.judgement.verdict,
            "in_the_way": list(self.in_the_way),
            "now": _figures(self.now),
            "lowest": {**_figures(self.lowest), "held_up_by": _notes(self.lowest)},
            "least_usual_action_mm": _rounded(self.least_usual_mm),
            "action_to_set_mm": _rounded(self.to_set_mm),
            "to_set": {
                **_figures(self.to_set),
                "held_up_by": _notes(self.to_set),
                "held_up_by_usual_action": list(self.to_set.at_usual),
                "held_up_by_saddle_end": list(self.to_set.at_end),
                "nut_too_low": list(self.nut_too_low),
                "saddle_too_low": list(self.saddle_too_low),
            },
            "relief_reach_mm": None if self.relief_reach is None else _rounded(self.relief_reach),
            "levelling": {
                "frets": list(self.levelled_frets),
                "gain_mm": round(self.levelling_gain_mm, 3),
                "lowest": None if self.levelled is None else _figures(self.levelled),
                "to_set": None if self.levelled_to_set is None else _figures(self.levelled_to_set),
            },
            "trade": [
                {**_figures(one), "action_to_set_mm": _rounded(offered.action_mm)}
                for one, offered in zip(self.trade, self.trade_to_set, strict=True)
            ],
            "not_modelled": list(map(tr, NOT_MODELLED)),
        }


def lowest_setup(
    service: Service,
    strength: str = "medium",
    margin_mm: float = 0.02,
    own: Path | None = None,
    now: Estimate | None = None,
    judgement: Judgement | None = None,
) -> LowestReport:
    """How low this instrument can go without a touch being heard at `strength`, and how low it is to be set.

    `now`: the solved state where it is known already; else it is estimated. So with `judgement`, a plan's of it.

    Raises:
        CorrectInputError: nothing is free of buzz, or a strength, kind or make that is not known.
        ChooseAnotherFileError: the shop's own file of strengths cannot be used.
    """
    how = playing_of(service, own)
    now = estimate(service) if now is None else now
    picture = with_crowns_as_read(service, now)
    asked = programme(picture, how, strength, margin_mm)
    level, frets = levelled(picture)
    after = programme(level, how, strength, margin_mm) if frets else None
    bends = service.instrument_now().rod.kind != "none"
    offer, saddle_up_mm = _offer(service, now, asked, how)
    return LowestReport(
        service=service,
        strength=strength,
        height_mm=how.strengths.height_mm(strength),
        margin_mm=margin_mm,
        now=present(picture),
        lowest=asked.lowest(),
        to_set=asked.offered(offer),
        offer=offer,
        levelled_frets=frets,
        levelled=after.lowest() if after else None,
        levelled_to_set=after.offered(offer) if after else None,
        relief_reach=asked.relief_reach if bends else None,
        saddle_up_mm=saddle_up_mm,
        judgement=judged(service, now, how) if judgement is None else judgement,
        playing=how,
    )


def _offer(service: Service, now: Estimate, asked: Programme, how: Playing) -> tuple[Offer, Array]:
    """Return what the offered set-up keeps to, and how far each saddle rises, mm, (S,)."""
    picture = asked.board.picture
    usual = least_usual_mm(picture.board)
    levers = [with_travel_left(one, service, now) for one in saddle_levers(picture)]
    offer = Offer(
        np.zeros_like(usual) if how.own else usual,
        _relief_to_have(service, now),
        tuple(one.low for one in levers),
    )
    up = furthest(levers, [one.high for one in levers])
    return offer, up[picture.layout["saddle_height"]]


def _relief_to_have(service: Service, now: Estimate) -> float | None:
    """Return the sag to have where the action gains nothing from another: as wanted; None where it is right."""
    wanted, sag, more = relief_wanted(service, now), present(now.picture).relief_mm, reads_more_mm(now)
    if wanted is None or abs(sag + more - wanted[0]) <= wanted[1]:
        return None
    return wanted[0] - more


def _strings(which: NDArray[np.bool_]) -> tuple[int, ...]:
    return tuple(int(one) + 1 for one in np.flatnonzero(which))


def _notes(one: Lowest) -> list[dict[str, int]]:
    return [asdict(limit) for limit in one.limits]


def _rounded(values: "Array | tuple[float, ...]") -> list[float]:
    return [round(float(mm), 3) + 0.0 for mm in values]


def _figures(one: Lowest) -> dict[str, Any]:
    return {
        "relief_mm": round(one.relief_mm, 3) + 0.0,  # what rounds to nothing has no sign
        "action_mm": _rounded(one.action_mm),
        "nut_clearance_mm": _rounded(one.nut_mm),
    }
