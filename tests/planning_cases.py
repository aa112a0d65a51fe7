"""Services for planning tests: a family's ordinary instrument, with readings at wished distances from target."""

from collections.abc import Callable

from bench._instruments import instrument_of
from breakangle.model.instrument import Instrument
from breakangle.model.plan import Plan
from breakangle.model.reading import Reading, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.estimate.target_state import place_read
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.kinds.registry import target_kind
from breakangle.planning.plan import plan
from breakangle.planning.state.board import board_of
from breakangle.reference.families import family

GAP_SPREAD_MM, PITCH_SPREAD_CENTS = 0.012, 0.3


def ordinary(kind: str) -> Instrument:
    """Return the family's ordinary instrument."""
    return instrument_of(family(kind), f"Ordinary {kind}")


def reads(target: Target, off: float) -> list[Reading]:
    """Return readings that show `target` to be `off` its wish by that many tolerances."""
    kind = target_kind(target)
    value = kind.wanted(target) + off * kind.tolerance(target)
    if target.quantity == "gap":
        spread = min(GAP_SPREAD_MM, 0.25 * kind.tolerance(target))
        held = target.held  # type: ignore[attr-defined]
        mm = max(value, 0.001)
        return [Gap(string=target.string, fret=target.fret, held=held, mm=mm, uncertainty_mm=spread)]
    common = {"string": target.string, "uncertainty_cents": PITCH_SPREAD_CENTS}
    return [Pitch(fret=0, cents=0.0, **common), Pitch(fret=target.fret, cents=value, **common)]


def service_reading(instrument: Instrument, off: Callable[[Target], float]) -> Service:
    """Return a service whose readings show every house target off by `off(target)` tolerances."""
    targets = house_targets(board_of(instrument), "medium")
    readings = [reading for target in targets for reading in reads(target, off(target))]
    return Service(instrument=instrument, readings=tuple(readings))


def role(target: Target) -> str:
    """Return what the trade calls the target: relief, action, nut clearance, intonation."""
    return str(target_kind(target).role(target)[0])


def made_of(service: Service) -> Plan:
    """Return the plan for what these readings show."""
    return plan(service, estimate(service))


def only(name: str, off: float, *strings: int) -> Callable[[Target], float]:
    """Return what puts one role off by so many tolerances, at these strings or all."""

    def wish(target: Target) -> float:
        return off if role(target) == name and (not strings or target.string in strings) else 0.0

    return wish


def good(kind: str = "electric-guitar") -> Service:
    """Return an ordinary instrument that reads just as wanted."""
    return service_reading(ordinary(kind), lambda target: 0.0)


def answered(service: Service, most: int = 4) -> Plan:
    """Return the plan once all it asks for has been read, and read as before: a place never read, as it expects."""
    made = made_of(service)
    for _ in range(most):
        if not made.questions:
            return made
        last = {place_read(one): one for one in service.readings}
        asked = [one for question in made.questions for one in question.readings]
        more = tuple(last.get(place_read(one), one) for one in asked)
        service = service.model_copy(update={"readings": (*service.readings, *more)})
        made = made_of(service)
    return made
