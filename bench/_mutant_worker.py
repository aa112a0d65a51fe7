"""Tries changes one at a time: a process that has collected the tests, and run none, is forked for each.

Nothing worked out before a change is remembered in it, and no change pays for finding the tests. It is begun by
`bench/mutants.py` in the changed copy of a group, which tells it on standard input what to try with which tests.
"""

import contextlib
import json
import os
import resource
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

NAMED = "MUTANT_UNDER_TEST"  # the variable by which mutmut's copies know which change is on
PLAIN = ("--rootdir=.", "--tb=no", "-p", "no:cacheprovider", "-q")
SLOWER, MORE_S = 5.0, 5.0  # an endless loop is one that takes so much longer than its tests did
SAMPLE = 5  # changes whose tests are run with none on, first of all
BUSY = 10.0  # how much longer than processor time the clock may take on a busy machine


def try_change(name: str, tests: Sequence[str], tested_s: float) -> int:
    """Return pytest's exit code with one change on, or less than nothing where it did not end."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    os.environ[NAMED] = name
    most_s = int(SLOWER * (tested_s + MORE_S))
    resource.setrlimit(resource.RLIMIT_CPU, (most_s, most_s + 1))
    signal.alarm(int(BUSY * most_s))
    quiet()
    os._exit(int(pytest.main([*PLAIN, "-x", *tests])))


def quiet() -> None:
    """Let this process say nothing."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)


def main(asked: dict[str, Any]) -> None:
    """Try what is asked until the time is up, and append a line of what came of each to `into`.

    `asked`: `selection` of tests to collect, `changes` as [name, tests, their seconds], `into` a file, `for` seconds.
    """
    os.environ |= {NAMED: "", "PY_IGNORE_IMPORTMISMATCH": "1"}
    sys.path.insert(0, str(Path("src").absolute()))
    until = time.monotonic() + asked["for"]
    with contextlib.redirect_stdout(sys.stderr):
        pytest.main([*PLAIN, "--collect-only", "-qq", *asked["selection"]])
    sample = asked["changes"][:SAMPLE]
    tests = dict.fromkeys(test for _, tests, _ in sample for test in tests)
    if tests and try_change("", list(tests), sum(seconds for _, _, seconds in sample)) != 0:
        raise SystemExit("tests fail with no change on: what they notice says nothing")
    with Path(asked["into"]).open("a", encoding="utf-8") as into:
        for name, tests, tested_s in asked["changes"]:
            if time.monotonic() > until:
                return
            began = time.monotonic()
            code = try_change(name, tests, tested_s)
            took = {"name": name, "code": code, "seconds": round(time.monotonic() - began, 2)}
            into.write(json.dumps(took) + "\n")
            into.flush()


if __name__ == "__main__":
    main(json.load(sys.stdin))
