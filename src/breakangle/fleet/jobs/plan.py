"""The plan of every instrument: one row each."""

from collections.abc import Mapping
from typing import Any

from breakangle.fleet.items import SERVICES, Item
from breakangle.model.words.speech import mark

WORDS = mark("what to adjust, for each instrument")
ENDINGS = SERVICES
COLUMNS = (
    ("verdict", "string", mark("leave, adjust, read-first or beyond-setup")),
    ("minutes", "double", mark("what the trips take at the bench, minutes")),
    ("trips", "int32", mark("how many times something is taken in hand")),
    ("questions", "int32", mark("how many readings or answers are asked for first")),
    ("findings", "list<string>", mark("patterns found over many readings, by their keys")),
    (
        "steps",
        "list<struct<adjust: string, string: int32, amount: double, unit: string, reason: string>>",
        mark("the adjustments in order; `string` is 0 where the step serves several"),
    ),
    ("plan", "string", mark("the whole plan as JSON, in the form breakangle/plan/2")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the plan's row; `settings["taught"]` is a file of what others taught, for the item's make and year.

    Raises:
        BreakangleError: what planning one service raises.
    """
    from breakangle.services.history.population import expected_in
    from breakangle.services.service_files.plan_json import plan_text
    from breakangle.services.service_files.service import plan_service, service_from

    service, taught = service_from(item.content, item.name), settings.get("taught")
    expected = expected_in(taught, service, item.make, item.year) if taught else None
    plan = plan_service(
        service,
        settings.get("hand"),
        item.earlier_services(),
        expected=expected.taught if expected is not None else None,
    )
    return [
        {
            "verdict": plan.verdict,
            "minutes": round(sum(trip.minutes for trip in plan.trips), 2),
            "trips": len(plan.trips),
            "questions": len(plan.questions),
            "findings": [one.finding for one in plan.findings],
            "steps": [_step(one.adjustment.model_dump(mode="json"), one.reason) for one in plan.steps],
            "plan": plan_text(plan, "plan/2"),
        }
    ]


def _step(adjustment: Mapping[str, Any], reason: str) -> dict[str, Any]:
    unit = next((name for name in ("mm", "turns", "degrees") if adjustment.get(name) is not None), "")
    return {
        "adjust": adjustment["adjust"],
        "string": int(adjustment.get("string") or 0),
        "amount": float(adjustment[unit]) if unit else 0.0,
        "unit": unit,
        "reason": reason,
    }
