"""Whole jobs on the screens at every width: `python -m bench.whole` runs them at 360, 820, 1440 px.

The tests themselves make each journey at one width of its own. On the phone it is done by touch, on the tablet by touch
and pedal, on the wide screen by keys. `python -m bench.whole banjo phone` takes those whose names hold every word.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

TESTS = Path(__file__).parents[1] / "tests"
JOURNEYS = [
    TESTS / name
    for name in (
        "journeys/whole",
        "browser/places/test_screens_service.py",
        "browser/places/test_screens_listen.py",
    )
]


def prove(quick: bool = False, named: tuple[str, ...] = ()) -> tuple[bool, str]:
    """Return whether every journey held, and what was run; `quick`: each at its own width alone."""
    sys.path.insert(0, str(TESTS))
    from web_fixtures.widths import EVERY_WIDTH

    environment = os.environ | ({} if quick else {EVERY_WIDTH: "yes"})
    words = [sys.executable, "-m", "pytest", "-p", "no:randomly", "-o", "addopts=--import-mode=importlib",
             "--durations=0", "--durations-min=1", "-k", " and ".join(named), *map(str, JOURNEYS)]  # fmt: skip
    made = subprocess.run(words, env=environment, capture_output=True, text=True, check=False)
    told = [
        one
        for one in made.stdout.splitlines()
        if re.search(r" call | passed| failed|^FAILED|^ERROR|^[E>] |^tests/\S+:\d+:", one)
    ]
    return made.returncode == 0, "\n".join(told)


if __name__ == "__main__":
    good, table = prove("--quick" in sys.argv, tuple(one for one in sys.argv[1:] if not one.startswith("-")))
    print(table)
    sys.exit(0 if good else 1)
