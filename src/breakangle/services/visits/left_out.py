"""What a person leaves out of a visit's plan: kept with the visit, and the plan is solved without it."""

import json

from breakangle.model.reading import Adjustment
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.planning.solve.lever_limits import same_adjuster
from breakangle.storage.records.entries import hold_visit
from breakangle.storage.records.records import Run, Visit
from breakangle.storage.records.store import Shop, Writing, add_record, change_record, records_where
from breakangle.storage.schema.stamp import Stamp

PLAN_RUN = "plan"  # the name under which a visit's run through its plan is kept


def left_out(connection: Writing, visit_id: str) -> tuple[Adjustment, ...]:
    """Return what is left out of the visit's plan, in the order it was."""
    found = records_where(connection, Run, visit_id=visit_id, procedure=PLAN_RUN)
    bodies = json.loads(found[0].body)["left_out"] if found else []
    kinds = adjustment_kinds()
    return tuple(kinds[one["adjust"]].model.model_validate(one) for one in bodies)


def declined(shop: Shop, visit: Visit) -> tuple[Adjustment, ...]:
    """Return what is left out of the visit's plan, in the order it was."""
    with shop.reading() as connection:
        return left_out(connection, visit.id)


def leave_out(shop: Shop, visit: Visit, adjustment: Adjustment, stamp: Stamp) -> None:
    """Plan the visit without the adjuster of `adjustment`, until it is taken back."""
    with shop.writing() as connection:
        hold_visit(connection, visit.id)
        there = _others(left_out(connection, visit.id), adjustment)
        _keep(connection, visit, (*there, adjustment), stamp)


def take_back(shop: Shop, visit: Visit, adjustment: Adjustment, stamp: Stamp) -> None:
    """Let the plan use the adjuster of `adjustment` again."""
    with shop.writing() as connection:
        hold_visit(connection, visit.id)
        _keep(connection, visit, _others(left_out(connection, visit.id), adjustment), stamp)


def _others(found: tuple[Adjustment, ...], adjustment: Adjustment) -> tuple[Adjustment, ...]:
    return tuple(one for one in found if not same_adjuster(one, adjustment))


def _keep(connection: Writing, visit: Visit, found: tuple[Adjustment, ...], stamp: Stamp) -> None:
    body = json.dumps({"left_out": [one.model_dump(mode="json", exclude_unset=True) for one in found]})
    there = records_where(connection, Run, visit_id=visit.id, procedure=PLAN_RUN)
    if there:
        change_record(connection, there[0], stamp, body=body)
    else:
        add_record(connection, Run, stamp, visit_id=visit.id, procedure=PLAN_RUN, body=body)
