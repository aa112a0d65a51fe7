"""Mutation testing: change the code in a thousand places, one at a time, and count how many changes the tests notice.

    python -m bench.mutants [--seed N] [--count 1000] [--for SECONDS] [group ...]

Each group is a part of the code with the tests that are about it. In a copy of its own under `mutants/`, mutmut writes
every change and finds, in one run of those tests, which of them reach which function; a change is then tried with the
tests that reach it only, the quickest first and up to the first that fails, for so many seconds (`TESTED_S`), by
`bench/_mutant_worker.py`: a process that has collected the tests, and run none, is forked for each change. mutmut's own
runner would run all tests unchanged once more in every portion, and those of a change in no order. Groups get equal
shares.

The seed is the day's date unless it is told, so that other places are tried each day. Called again with the same seed
it goes on where it was; `--for` stops it after so long. A change that none of those tests notices, or that no test
reaches, survives; those that are known, each with its reason, stand in docs/mutants.md.
"""

import argparse
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
COPIES = ROOT / "mutants"
KNOWN = ROOT / "docs" / "mutants.md"
GOAL_RATIO = 0.88
TESTED_S = 20.0  # how long the tests of one change may take, by what each took when it was not changed
# Exit codes by which mutmut says that a test failed, or that the tests did not end (which is noticed too): their time
# of the processor was up, or their stack. What the clock or want of memory ended says nothing of the change: not told.
KILLED, ENDLESS, UNREACHED, SURVIVED, NOT_TOLD = (1, 3), (-24, -11), (5, 33), (0,), (-14, -9)
# What is changed, under src/breakangle, and the tests that are about it.
GROUPS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "physics": (
        ("physics/*",),
        (
            "tests/properties/physics", "tests/published/test_anderson_beausoleil_2024.py",
            "tests/published/test_anderson_beausoleil_manuscript.py", "tests/published/test_body_pull.py",
            "tests/published/test_capstan_nut.py", "tests/published/test_contact_known_motions.py",
            "tests/published/test_shared_crown.py", "tests/published/test_stiff_string_partials.py",
            "tests/published/test_string_losses.py", "tests/published/test_timoshenko_1925.py",
            "tests/published/test_wood_handbook.py", "tests/properties/planning/test_making_laws.py",
        ),
    ),
    "solve": (
        ("planning/solve/*",),
        (
            "tests/properties/planning/test_planning_laws.py", "tests/properties/planning/test_margins.py",
            "tests/properties/planning/test_cuts_wait_for_the_rod.py",
            "tests/properties/planning/test_courses_on_one_crown.py", "tests/journeys/plans/asked",
            "tests/journeys/plans/followed/test_plan_travel.py",
            "tests/journeys/plans/followed/test_plan_harms_nothing.py",
            "tests/journeys/plans/followed/test_plan_rod_helps.py",
        ),
    ),
    "verdict": (
        ("planning/verdict/*",),
        (
            "tests/journeys/plans/followed/test_one_verdict.py", "tests/journeys/plans/asked",
            "tests/journeys/documents/test_findings_stay.py", "tests/properties/planning/test_doubt_counted.py",
        ),
    ),
    "storage": (
        ("storage/exchange/*", "storage/backup/*"),
        (
            "tests/journeys/records/test_shop_backup.py", "tests/journeys/records/test_shop_backup_former.py",
            "tests/journeys/records/test_shop_exchange.py", "tests/journeys/records/test_restored_meanwhile.py",
            "tests/faults/records/test_import_checked.py", "tests/faults/records/test_shop_zip.py",
            "tests/faults/records/test_backups_keep_themselves.py", "tests/faults/records/test_person_erased.py",
        ),
    ),
}  # fmt: skip
# Changes that change nothing, by what stands on the changed line, each with its reason; they count as not noticed.
EQUAL = {
    r"dtype=None|asarray\([^(),]*, \)": "numbers that numpy makes floats of in the next line of reckoning anyway",
    r"strict=(None|False)|zip\([^()]*, \)": "a guard against lists of unequal length, which no caller has",
    r"encoding=(None|\"UTF-8\")": "another spelling of the encoding, or the one that this system has anyway",
}
TRIED = "tried.jsonl"
LONGEST_S = 1e9
COPIED = ("src", "tests", "bench", "docs", "tools", "requirements")
LEFT_OUT = shutil.ignore_patterns("node_modules", "__pycache__", "_site", "out")


def results(group: str) -> dict[str, int | None]:
    """Return the exit code of every change of a group by its name, None where it was not tried."""
    found: dict[str, int | None] = {}
    for path in sorted((COPIES / group / "mutants").rglob("*.meta")):
        found |= dict.fromkeys(json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"])
    return found | {one["name"]: one["code"] for one in tried(group)}


def tried(group: str) -> list[dict[str, Any]]:
    """Return what came of every change of a group that was tried: its name, exit code and seconds."""
    path = COPIES / group / TRIED
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    return [json.loads(line) for line in lines]


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


def learn_reach(place: Path, stats_file: Path) -> None:
    """Let mutmut write the changes and run the tests once; then it would only run them again, and is ended."""
    with (place / "last.log").open("wb") as log:
        words = [sys.executable, "-m", "mutmut", "run", "--max-children", "1"]
        running = subprocess.Popen(words, cwd=place, stdout=log, stderr=log, start_new_session=True)
        try:
            while running.poll() is None and not stats_file.exists():
                time.sleep(0.5)
            time.sleep(1.0)  # it is written in one go, but not at once
        finally:
            with suppress(ProcessLookupError):  # it ended by itself: what it said stands in the log
                os.killpg(running.pid, signal.SIGKILL)  # with the tests that it has begun anew
            running.wait()
    if not stats_file.exists():
        raise SystemExit((place / "last.log").read_text(encoding="utf-8", errors="replace")[-3000:])


def prepare(group: str) -> None:
    """Write the changed copy of a group and find which tests reach what, unless that stands there already."""
    place = COPIES / group
    stats_file = place / "mutants" / "mutmut-stats.json"
    if stats_file.exists():
        return
    shutil.rmtree(place, ignore_errors=True)
    for folder in COPIED:
        shutil.copytree(ROOT / folder, place / folder, ignore=LEFT_OUT)
    for path in (*ROOT.glob("*.md"), *ROOT.glob("*.py"), ROOT / "Makefile"):
        shutil.copy2(path, place)
    changed, tests = GROUPS[group]
    settings = {
        "source_paths": ["src"],
        "only_mutate": [f"src/breakangle/{one}" for one in changed],
        "also_copy": [one for one in COPIED if one not in ("src", "tests")] + ["README.md", "Makefile"],
        "process_isolation": "forkserver",
        "timeout_multiplier": 5.0,
        "timeout_constant": 5.0,
        "pytest_add_cli_args_test_selection": list(tests),
    }
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    lines = [f"{key} = {json.dumps(value)}" for key, value in settings.items()]
    lines += ["track_dependencies = false", "use_git_change_detection = false"]
    (place / "pyproject.toml").write_text("\n".join([text, "[tool.mutmut]", *lines, ""]), encoding="utf-8")
    learn_reach(place, stats_file)
    stats = json.loads(stats_file.read_text(encoding="utf-8"))
    if not stats["tests_by_mangled_function_name"]:
        raise SystemExit(f"{group}: no test reaches anything; see {place / 'last.log'}")


def drawn(names: Sequence[str], seed: int, count: int) -> list[str]:
    """Return so many of the names, drawn by the seed."""
    return random.Random(seed).sample(sorted(names), min(count, len(names)))


def place(name: str) -> str:
    """Return the function of a change, as its file and name: `physics/neck/gaps.py: relief_mm`."""
    module, _, mangled = name.rpartition(".")
    function = re.sub(r"__mutmut_\d+$", "", mangled).removeprefix("x_").strip("ǁ").removeprefix("xǁ")
    return f"{module.removeprefix('breakangle.').replace('.', '/')}.py: {function.replace('ǁ', '.')}"


def change_of(group: str, name: str) -> str:
    """Return the changed lines of a change."""
    done = subprocess.run(
        [sys.executable, "-m", "mutmut", "show", name],
        cwd=COPIES / group, check=False, capture_output=True, text=True,
    )  # fmt: skip
    lines = [line for line in done.stdout.splitlines() if re.match(r"[+-](?![+-])", line)]
    return " / ".join(re.sub(r"\s+", " ", line).replace("|", "¦") for line in lines)


def equal(line: str) -> bool:
    """Return whether the last line of a change is of a kind that changes nothing."""
    changed = line.rstrip(" |`").rpartition(" / + ")[2]
    return any(re.search(pattern, changed) for pattern in EQUAL)


def table(codes_of: dict[str, int]) -> str:
    """Return by folder how many were tried, noticed, endless, not reached, not noticed and not told."""
    rows: dict[str, Counter[str]] = {}
    kinds = {
        "noticed": KILLED, "endless": ENDLESS, "not reached": UNREACHED, "not noticed": SURVIVED,
        "not told": NOT_TOLD,
    }  # fmt: skip
    for name, code in codes_of.items():
        folder = "/".join(place(name).split("/")[:2])
        kind = next((word for word, codes in kinds.items() if code in codes), "not noticed")
        rows.setdefault(folder, Counter())[kind] += 1
    rows["together"] = sum(rows.values(), Counter())
    lines = [
        "| folder | changes | noticed | endless | not noticed | not reached | not told | share |",
        "| --- |" + " ---: |" * 7,
    ]
    for folder, found in rows.items():
        whole = found.total()
        good = found["noticed"] + found["endless"]
        words = ("noticed", "endless", "not noticed", "not reached", "not told")
        cells = (whole, *(found[word] for word in words))
        share = f"{100.0 * good / max(whole, 1):.1f} %"
        lines.append(f"| {folder} | {' | '.join(str(cell) for cell in cells)} | {share} |")
    return "\n".join(lines)


def try_changes(group: str, chosen: Sequence[str], seconds: float) -> None:
    """Try the drawn changes of a group that were not tried yet, for so long."""
    place = COPIES / group
    stats = json.loads((place / "mutants" / "mutmut-stats.json").read_text(encoding="utf-8"))
    reach, took = stats["tests_by_mangled_function_name"], stats["duration_by_test"]
    known, changes = results(group), []
    for name in sorted(one for one in chosen if known[one] is None):
        tests = quickest(reach.get(re.sub(r"__mutmut_\d+$", "", name), ()), took)
        if tests:
            changes.append([name, tests, sum(took.get(test, 0.0) for test in tests)])
        else:
            with (place / TRIED).open("a", encoding="utf-8") as into:
                into.write(json.dumps({"name": name, "code": UNREACHED[-1], "seconds": 0.0}) + "\n")
    random.Random(len(changes)).shuffle(
        changes
    )  # broken off, what was tried is a fair part of what was drawn
    asked = {"selection": GROUPS[group][1], "changes": changes, "into": str(place / TRIED), "for": seconds}
    with (place / "last.log").open("wb") as log:
        done = subprocess.run(
            [sys.executable, str(ROOT / "bench" / "_mutant_worker.py")],
            input=json.dumps(asked).encode(), cwd=place / "mutants", check=False, stdout=log, stderr=log,
        )  # fmt: skip
    if done.returncode:
        raise SystemExit(
            f"{group}: {(place / 'last.log').read_text(encoding='utf-8', errors='replace')[-2000:]}"
        )


def main(words: list[str]) -> int:
    """Try the drawn changes; return 1 where too few were noticed, or one that is not known survived."""
    options = argparse.ArgumentParser(prog="python -m bench.mutants")
    options.add_argument("groups", nargs="*", choices=[*GROUPS, []], metavar="group")
    options.add_argument("--seed", type=int, default=int(datetime.now(UTC).strftime("%Y%m%d")))
    options.add_argument("--count", type=int, default=1000)
    options.add_argument("--for", dest="seconds", type=float, default=float("inf"))
    asked = options.parse_args(words)
    until = time.monotonic() + asked.seconds
    chosen = {}
    for group in asked.groups or GROUPS:
        prepare(group)
        chosen[group] = drawn(list(results(group)), asked.seed, asked.count // len(GROUPS))
        try_changes(group, chosen[group], min(until - time.monotonic(), LONGEST_S))
    return told(chosen, asked.seed)


def told(chosen: dict[str, list[str]], seed: int) -> int:
    """Print what came of the changes that were tried; return the exit code."""
    codes_of: dict[str, int] = {}
    unknown = []
    known = KNOWN.read_text(encoding="utf-8") if KNOWN.exists() else ""
    for group, names in chosen.items():
        codes = results(group)
        of_group = {name: code for name in names if (code := codes[name]) is not None}
        codes_of |= of_group
        new = [name for name, code in sorted(of_group.items()) if code not in (*KILLED, *ENDLESS, *NOT_TOLD)]
        lines = [f"| `{place(name)}` | `{change_of(group, name)}` |" for name in new]
        unknown += [line for line in lines if line not in known and not equal(line)]
    good = sum(code in (*KILLED, *ENDLESS) for code in codes_of.values())
    whole = sum(map(len, chosen.values()))
    seconds = sorted(one["seconds"] for group in chosen for one in tried(group) if one["seconds"])
    cost = (
        f"; {sum(seconds) / len(seconds):.1f} s each, half under {seconds[len(seconds) // 2]:.1f} s"
        if seconds
        else ""
    )
    print(f"seed {seed}: {len(codes_of)} of {whole} drawn, {good} noticed{cost}\n\n{table(codes_of)}\n")
    print("\n".join(unknown))
    return 0 if len(codes_of) == whole and good >= GOAL_RATIO * len(codes_of) and not unknown else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
