"""What today's air does to this neck and to its pitch: from wood tables, and from this neck's own history."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Room, Service
from breakangle.model.words.message import Message
from breakangle.model.words.speech import tr
from breakangle.physics.climate.wood_moisture import equilibrium_moisture_percent, movement_mm
from breakangle.planning.state.board import Board, board_of
from breakangle.planning.state.effects.season import action_messages, not_known, season_prior
from breakangle.planning.state.effects.warmth import Warmth, damp, warmth, warmth_messages, warmth_not_known
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.messages import words
from breakangle.reference.woods import Wood, usual_boards, wood
from breakangle.services.climate.air_words import air_sentences, not_known_sentences
from breakangle.services.history.figures import season_figures
from breakangle.services.history.seasons import CREEP_MM, Drift, drift
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import history
from breakangle.storage.records.store import Shop

# How much of the way to the new moisture a lacquered neck goes in weeks; common practice, no source.
REACHED_SHARE = Known(0.5, 0.3)
HUMIDITY_SPREAD_PERCENT = 3.0  # an ordinary hygrometer; common practice, no source


@dataclass(frozen=True)
class StringInAir:
    """What the change of air does to one open string's pitch in cents, if nobody retunes.

    `warmth_cents` comes within the hour; `damp_cents` with the neck's own length, over days or weeks.
    """

    string: int
    note: str
    warmth_cents: Known
    damp_cents: Known


@dataclass(frozen=True)
class Heard:
    """How far open strings have moved in cents without retuning, and at what temperature; None: that of today."""

    cents: Mapping[int, float]
    temperature_c: float | None = None


@dataclass(frozen=True)
class Climate:
    """What changes between two rooms.

    `moisture_before_percent`, `moisture_after_percent`: where wood settles in either. `board_width_mm`: change
    of the board's width at its last fret, fret ends standing out where it is negative; None where no wood
    is named and none is usual. `relief_mm`, `action_mm`: by this neck's own history, or as wide as any neck's
    where `own_pairs` is 0. `out_words`: what that would put out of tolerance.
    """

    before: Room
    after: Room
    moisture_before_percent: float
    moisture_after_percent: float
    board_width_mm: Known
    relief_mm: Known
    action_mm: Known
    own_pairs: int
    strings: tuple[StringInAir, ...]
    sentences: tuple[str, ...]
    not_known: tuple[str, ...]


def climate(
    service: Service,
    after: Room,
    before: Room | None = None,
    wood_key: str | None = None,
    quarter_sawn: bool | None = None,
    relief_drift: Drift | None = None,
    action_drift: Drift | None = None,
    heard: Heard | None = None,
) -> Climate:
    """Return what the air `after` does to the service's instrument, that was set up in the air `before`.

    Args:
        service: the instrument; its readings are not needed.
        after: today's air, or the air where it goes.
        before: the air it was set up in; None: the service's own room.
        wood_key: the board's wood, a row of the woods table; None: a usual neck wood, with more doubt.
        quarter_sawn: how the board was cut; None: not known, between the two.
        relief_drift: how relief follows humidity on this neck (`services.history.drift.drift`); None: not known.
        action_drift: the same of its action.
        heard: what the open strings did since, without retuning: it teaches how this set takes warmth.

    Raises:
        CorrectInputError: temperature or humidity missing in either air, an unknown wood, a string that is not there.
    """
    was = _complete(before or service.room, tr("it was set up in"))
    now = _complete(after, tr("of today"))
    board = board_of(service.instrument_now(), service.reference_hz)
    settled = [
        float(equilibrium_moisture_percent(temperature_c=air[0], humidity_percent=air[1]))
        for air in (was, now)
    ]
    change = settled[1] - settled[0]
    prior = season_prior(board.instrument)
    relief = _drifted(relief_drift or drift((), prior=prior.relief), now[1] - was[1])
    action = _drifted(action_drift or drift((), prior=prior.action), now[1] - was[1])
    quick = warmth(board, *_moved(heard, board, was[0], now[0]))
    strings = _strings(board, quick, now[0] - was[0], change)
    width = _width(board, change, wood_key, quarter_sawn)
    pairs = relief_drift.pairs if relief_drift is not None else 0
    return Climate(
        Room(temperature_c=was[0], humidity_percent=was[1]), Room(temperature_c=now[0], humidity_percent=now[1]),
        settled[0], settled[1], width, relief, action, pairs, strings,
        air_sentences(service, settled, width, (relief, pairs), [string.warmth_cents for string in strings])
        + _in_words(action_messages(action, action_drift.pairs if action_drift else 0))
        + _in_words(warmth_messages(board, quick)),
        not_known_sentences(pairs, wood_key, quarter_sawn)
        + _in_words(warmth_not_known(board, quick))
        + _in_words(not_known(board.instrument, pairs)),
    )  # fmt: skip


def climate_of_visit(
    shop: Shop,
    visit_id: str,
    after: Room,
    wood_key: str | None = None,
    quarter_sawn: bool | None = None,
    before: Room | None = None,
    heard: Heard | None = None,
) -> Climate:
    """Return what the air `after` does to a visit's instrument, from all its visits' readings.

    The air it was set up in is `before`; None: that of the latest visit that recorded it. `heard`: what open strings
    have done since, not retuned.

    Raises:
        NoSuchRecordError: no such visit.
        CorrectInputError: no visit recorded the air, or an unknown wood.
    """
    from breakangle.storage.records.records import Visit

    visit = shop.get(Visit, visit_id)
    figures = season_figures(shop, visit.instrument_id)
    rooms = [
        Room(temperature_c=one.temperature_c, humidity_percent=one.humidity_percent)
        for one in history(shop, visit.instrument_id)
        if one.temperature_c is not None and one.humidity_percent is not None
    ]
    service = service_of(shop, visit_id)
    prior = season_prior(service.instrument_now())
    return climate(
        service, after, before or (rooms[-1] if rooms else None), wood_key, quarter_sawn,
        drift(figures, prior=prior.relief), drift(figures, action=True, prior=prior.action),
        heard,
    )  # fmt: skip


def _moved(
    heard: Heard | None, board: Board, before_c: float, now_c: float
) -> tuple[Mapping[int, float], float]:
    """Return how far strings have moved in cents, and by how many kelvin it was warmer then."""
    if heard is None:
        return {}, 0.0
    for string in heard.cents:
        if not 1 <= string <= board.string_count:
            raise CorrectInputError(
                tr("string {string} was heard", string=string),
                tr("strings 1 to {string_count}", string_count=board.string_count),
            )
    return heard.cents, (now_c if heard.temperature_c is None else heard.temperature_c) - before_c


def _in_words(messages: Sequence[Message]) -> tuple[str, ...]:
    return tuple(words(message) for message in messages)


def _complete(room: Room | None, which: str) -> tuple[float, float]:
    if room is None or room.temperature_c is None or room.humidity_percent is None:
        raise CorrectInputError(
            tr("the air {which} is not known", which=which),
            tr("a temperature and a relative humidity"),
            tr("give both"),
        )
    return room.temperature_c, room.humidity_percent


def _drifted(known: Drift, humidity_change: float) -> Known:
    """Return how far a figure moves, in mm."""
    slope, doubt = known.mm_per_percent, known.uncertainty
    moved = slope * humidity_change + 0.0
    gauge = slope * HUMIDITY_SPREAD_PERCENT * 2**0.5
    return Known(moved, hypot(doubt * humidity_change, gauge, CREEP_MM if humidity_change else 0.0))


def _width(board: Board, change: float, key: str | None, quarter_sawn: bool | None) -> Known:
    """Return the change of the board's width at the last fret, in mm, once the wood has settled."""
    instrument = board.instrument
    share = float(board.along_mm[0, board.fret_count] / board.along_mm[0, -1])
    wide = instrument.spread_nut_mm + (instrument.spread_bridge_mm - instrument.spread_nut_mm) * share + 7.0
    rates = [_rate(of, quarter_sawn) for of in (usual_boards() if key is None else (wood(key),))]
    rate = float(np.mean([one.value for one in rates]))
    doubt = hypot(
        float(np.mean([one.uncertainty for one in rates])), float(np.std([one.value for one in rates]))
    )
    moved = float(movement_mm(width_mm=wide, movement_per_percent=rate, moisture_change_percent=change))
    return Known(moved, abs(change) * wide * doubt)


def _rate(of: Wood, quarter_sawn: bool | None) -> Known:
    """Return a wood's movement per percent; between both faces where nobody told how it was cut."""
    sides = (of.radial_per_percent, of.tangential_per_percent)
    if quarter_sawn is None:
        # The spread of an even chance between the two, and a little for what lies outside.
        return Known(float(np.mean(sides)), (sides[1] - sides[0]) / 3.5)
    # Boards of one wood differ by a tenth; common practice, no source.
    rate = sides[0] if quarter_sawn else sides[1]
    return Known(rate, 0.1 * rate)


def _strings(
    board: Board, quick: Sequence[Warmth], warmer_k: float, damper: float
) -> tuple[StringInAir, ...]:
    """Return what warmth and damp do to every open string, in cents."""
    moved_strings = []
    for index, one in enumerate(board.instrument.in_order()):
        per_k, wet, reached = quick[index].cents_per_k, damp(board, index), REACHED_SHARE
        doubt = hypot(wet.uncertainty * reached.value, wet.value * reached.uncertainty)
        moved_strings.append(
            StringInAir(
                one.string, one.note,
                Known(per_k.value * warmer_k, per_k.uncertainty * abs(warmer_k)),
                Known(wet.value * reached.value * damper, doubt * abs(damper)),
            )
        )  # fmt: skip
    return tuple(moved_strings)
