"""Who works in the tests' shops, when, and what they read and do."""

from datetime import UTC, datetime, timedelta

from breakangle.storage.schema.stamp import Stamp

START = datetime(2027, 1, 11, 9, 0, tzinfo=UTC)
ADA, BO = Stamp("Ada", START), Stamp("Bo", START + timedelta(minutes=5))
GAP = {"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": 1.8}
ROD = {"adjust": "rod", "turns": 0.25}


def later(days: float = 0.0, minutes: float = 0.0, who: str = "Ada") -> Stamp:
    """Return a stamp so long after the start."""
    return Stamp(who, START + timedelta(days=days, minutes=minutes))
