"""Mutation testing: change the code in a thousand places, one at a time, and count how many changes the tests notice.

    python -m bench.mutants [--seed N] [--count 1000] [--for SECONDS]

Mutmut writes every change into a copy in `mutants/`, and finds in one run of the tests which of them reach which
function; a change is then tried with the tests that reach it only, the quickest first, for so many seconds
(`TESTED_S`). The seed is the day's date unless it is told, so that other places are tried each day. Called again with
the same seed it goes on where it was; `--for` stops it after so long. A change that none of those tests notices, or
that no test reaches, survives; those that are known, each with its reason, stand in docs/mutants.md.
"""

import argparse
import json
import random
import re
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).parents[1]
COPY = ROOT / "mutants"
STATS = COPY / "mutmut-stats.json"
KNOWN = ROOT / "docs" / "mutants.md"
GOAL_RATIO = 0.88
TESTED_S = 20.0  # how long the tests of one change may take, by what each took when it was not changed
AT_ONCE = 60  # changes a run of mutmut
# Exit codes by which mutmut says that a test failed, or that the tests did not end (which is noticed too).
KILLED, ENDLESS, UNREACHED, SURVIVED = (1, 3), (-24, 24, 36, 152, 255, -9, -11), (5, 33), (0,)


def mutmut(*words: str) -> int:
    """Run mutmut, and return its exit code."""
    done = subprocess.run(
        [sys.executable, "-m", "mutmut", *words], cwd=ROOT, check=False, capture_output=True
    )
    if done.returncode:
        (COPY / "last.log").write_bytes(done.stdout + done.stderr)
    return done.returncode


def results() -> dict[str, int | None]:
    """Return the exit code of every change by its name, None where it was not tried."""
    found: dict[str, int | None] = {}
    for path in sorted(COPY.rglob("*.meta")):
        found |= json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"]
    return found


def quickest(tests: Iterable[str], seconds: dict[str, float], limit_s: float = TESTED_S) -> list[str]:
    """Return the quickest of some tests that together take no longer than the limit; at least one."""
    chosen: list[str] = []
    spent = 0.0
    for test in sorted(tests, key=lambda one: (seconds.get(one, 0.0), one)):
        spent += seconds.get(test, 0.0)
        if chosen and spent > limit_s:
            break
        chosen.append(test)
    return chosen


def prepare() -> None:
    """Write the changed copy and find which tests reach what, unless that stands there already."""
    if not STATS.exists():
        mutmut("run", "nothing")  # no change has that name: it ends once it knows the tests
    stats = json.loads(STATS.read_text(encoding="utf-8"))
    reach = stats["tests_by_mangled_function_name"]
    stats["tests_by_mangled_function_name"] = {
        name: quickest(tests, stats["duration_by_test"]) for name, tests in reach.items()
    }
    STATS.write_text(json.dumps(stats), encoding="utf-8")


def drawn(names: Sequence[str], seed: int, count: int) -> list[str]:
    """Return so many of the names, drawn by the seed."""
    return random.Random(seed).sample(sorted(names), min(count, len(names)))


def place(name: str) -> str:
    """Return the function of a change, as its file and name: `physics/neck/gaps.py: relief_mm`."""
    module, _, mangled = name.rpartition(".")
    function = re.sub(r"__mutmut_\d+$", "", mangled).removeprefix("x_").strip("ǁ").removeprefix("xǁ")
    return f"{module.removeprefix('breakangle.').replace('.', '/')}.py: {function.replace('ǁ', '.')}"


def change_of(name: str) -> str:
    """Return the changed lines of a change."""
    done = subprocess.run(
        [sys.executable, "-m", "mutmut", "show", name], cwd=ROOT, check=False, capture_output=True, text=True
    )
    lines = [line for line in done.stdout.splitlines() if re.match(r"[+-](?![+-])", line)]
    return " / ".join(re.sub(r"\s+", " ", line).replace("|", "¦") for line in lines)


def table(tried: dict[str, int]) -> str:
    """Return by folder how many were tried, noticed, endless, not reached and not noticed."""
    rows: dict[str, Counter[str]] = {}
    kinds = {"noticed": KILLED, "endless": ENDLESS, "not reached": UNREACHED, "not noticed": SURVIVED}
    for name, code in tried.items():
        folder = "/".join(place(name).split("/")[:2])
        kind = next((word for word, codes in kinds.items() if code in codes), "not noticed")
        rows.setdefault(folder, Counter())[kind] += 1
    rows["together"] = sum(rows.values(), Counter())
    lines = [
        "| folder | changes | noticed | endless | not noticed | not reached | share |",
        "| --- |" + " ---: |" * 6,
    ]
    for folder, found in rows.items():
        whole = found.total()
        good = found["noticed"] + found["endless"]
        cells = (whole, *(found[word] for word in ("noticed", "endless", "not noticed", "not reached")))
        share = f"{100.0 * good / max(whole, 1):.1f} %"
        lines.append(f"| {folder} | {' | '.join(str(cell) for cell in cells)} | {share} |")
    return "\n".join(lines)


def main(words: list[str]) -> int:
    """Try the drawn changes; return 1 where too few were noticed, or one that is not known survived."""
    options = argparse.ArgumentParser(prog="python -m bench.mutants")
    options.add_argument("--seed", type=int, default=int(datetime.now(UTC).strftime("%Y%m%d")))
    options.add_argument("--count", type=int, default=1000)
    options.add_argument("--for", dest="seconds", type=float, default=float("inf"))
    asked = options.parse_args(words)
    began = time.monotonic()
    prepare()
    chosen = drawn(list(results()), asked.seed, asked.count)
    left = [name for name in chosen if results()[name] is None]
    while left and time.monotonic() - began < asked.seconds:
        batch = sorted(left)[:AT_ONCE]
        mutmut("run", "--max-children", "1", *batch)
        before, left = left, [name for name in chosen if results()[name] is None]
        if len(left) == len(before):
            print((COPY / "last.log").read_text(encoding="utf-8", errors="replace")[-3000:], file=sys.stderr)
            return 2
    return told(chosen, asked.seed)


def told(chosen: list[str], seed: int) -> int:
    """Print what came of the changes that were tried; return the exit code."""
    codes = results()
    tried = {name: code for name in chosen if (code := codes[name]) is not None}
    good = sum(code in (*KILLED, *ENDLESS) for code in tried.values())
    print(f"seed {seed}: {len(tried)} of {len(chosen)} drawn, {good} noticed\n\n{table(tried)}\n")
    known = KNOWN.read_text(encoding="utf-8") if KNOWN.exists() else ""
    new = [name for name, code in sorted(tried.items()) if code not in (*KILLED, *ENDLESS)]
    lines = [f"| `{place(name)}` | `{change_of(name)}` |" for name in new]
    unknown = [line for line in lines if line not in known]
    print("\n".join(unknown))
    return 0 if len(tried) == len(chosen) and good >= GOAL_RATIO * len(tried) and not unknown else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
