"""What this bench takes for the steps of its procedures, from the ticks of its last runs."""

from collections.abc import Mapping

from breakangle.procedures.model import Procedure
from breakangle.procedures.pace import learned_minutes
from breakangle.procedures.way import Way
from breakangle.storage.records.last_runs import last_runs
from breakangle.storage.records.store import Shop

MOST_RUNS = 120  # so many of the last runs count: a bench gets quicker, and a page must not wait


def learned(shop: Shop | None, procedures: Mapping[str, Procedure]) -> dict[str, dict[str, float]]:
    """Return the minutes learned, by procedure and step; those no bench has timed often enough are left out."""
    if shop is None:
        return {}
    with shop.reading() as connection:
        rows = last_runs(connection, list(procedures), MOST_RUNS)
    ways: dict[str, list[Way]] = {}
    for name, body in rows:
        ways.setdefault(name, []).append(Way.model_validate_json(body))
    return {name: learned_minutes(procedures[name], runs) for name, runs in ways.items()}
