"""Kills during a backup, before and in a migration: no broken copy is ever taken for whole.

`python -m bench kills` (100 of each); `--quick` does 10. `python -m bench.prove kills` says whether it holds.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from shop_fixtures.killed_copies import Killed, killed_backups, killed_migrations

KILLS, QUICK_KILLS, SEED = 100, 10, 23


def prove(quick: bool = False) -> tuple[bool, str]:
    """Return whether every copy that counts is whole and every shop came on, and the figures."""
    count = QUICK_KILLS if quick else KILLS
    with tempfile.TemporaryDirectory(prefix="breakangle-") as name:
        (Path(name) / "migrated").mkdir()
        outcomes = {
            "during a backup": killed_backups(Path(name) / "backed-up", count, SEED),
            "before and in a migration": killed_migrations(Path(name) / "migrated", count, SEED),
        }
    return not any(one.wrong for one in outcomes.values()), "\n".join(
        _line(when, one) for when, one in outcomes.items()
    )


def _line(when: str, outcome: Killed) -> str:
    wrong = "".join(f"\n  {one}" for one in outcome.wrong[:20])
    return (
        f"killed {outcome.kills} times {when} ({outcome.in_the_middle} in the middle of it): {outcome.copies} copies "
        f"counted as such, each opened and counted; wrong: {len(outcome.wrong)}{wrong}"
    )


def report(quick: bool = False) -> str:
    """Return the figures."""
    return prove(quick)[1]
