"""A plan worked out in a process of its own: while it is, the server answers pages on another processor."""

from breakangle.model.plan import Plan
from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.model.service_file import service_model
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.kinds.registry import file_kinds
from breakangle.planning.more_trips import with_reason_for_more
from breakangle.planning.plan import plan
from breakangle.planning.state.layout import Belief
from breakangle.services.service_files.service import some_instrument_fits
from breakangle.services.workers.lasting import BrokeOffError, Lasting
from breakangle.services.workers.queue import PLANS, Queue

PLANNER = Lasting(PLANS.most_mb, PLANS.longest_s)


def made_plan(
    service: Service, now: Estimate, without: tuple[Adjustment, ...] = (), prior: Belief | None = None
) -> Plan:
    """Return the plan of a service, worked out in the server's process for plans where there is one.

    Args:
        service: the service, as it stands.
        now: its most probable state.
        without: adjusters that a person leaves out.
        prior: what was believed before it.

    Raises:
        ReadAgainError: readings that no instrument fits.
    """
    if Queue.apart:
        try:
            return PLANNER.run(_planned, service.model_dump_json(exclude_unset=True), now, without, prior)
        except BrokeOffError:
            pass  # then it is worked out here
    return _plan(service, now, without, prior)


def _planned(content: str, now: Estimate, without: tuple[Adjustment, ...], prior: Belief | None) -> Plan:
    """Return the plan of a service that came as JSON: its model is made from the registered kinds, in each process."""
    return _plan(service_model(file_kinds()).model_validate_json(content), now, without, prior)


def _plan(service: Service, now: Estimate, without: tuple[Adjustment, ...], prior: Belief | None) -> Plan:
    with some_instrument_fits():
        return with_reason_for_more(service, plan(service, now, without), prior, without)
