"""How long a process takes from nothing: the import, the first help, a plan of a file. Figures in seconds.

Measured by pyperf's own command runner, over at least ten processes, beside a bare interpreter; bytecode is kept, as
an installed package has it. Goals: import and `--help` under 0.15 s, `plan FILE` under 0.5 s, on an idle machine; what
the processor itself worked (`cpu`, the least of all runs) stands beside, for a machine that is not idle.
"""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from breakangle.services.service_files.example import example_text

TIMED = {
    "bare interpreter": ("-c", "pass", 0.0),
    "import breakangle": ("-c", "import breakangle", 0.15),
    "breakangle --help": ("-m", "breakangle", "--help", 0.15),
    "breakangle plan FILE": ("-m", "breakangle", "plan", "FILE", 0.5),
}


def report(quick: bool = False) -> str:
    """Return a table: least, median and most of ten processes (three where quick), and the goal."""
    lines = [f"{'process':24s}{'least':>8s}{'median':>8s}{'most':>8s}{'cpu':>8s}{'goal':>8s}   s"]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "service.json"
        file.write_text(example_text(), encoding="utf-8")
        for name, (*words, goal) in TIMED.items():
            command = [str(file) if word == "FILE" else str(word) for word in words]
            found = timed(command, Path(folder) / "timed.json", 3 if quick else 10)
            middle = found[len(found) // 2]
            wanted = f"{goal:8.2f}" if goal else " " * 8
            lines.append(
                f"{name:24s}{found[0]:8.3f}{middle:8.3f}{found[-1]:8.3f}{worked(command, len(found)):8.3f}{wanted}"
            )
    return "\n".join(lines)


def worked(words: list[str], processes: int) -> float:
    """Return the least processor time of so many processes of this interpreter, user and system, in seconds."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    found = []
    for _ in range(processes):
        before = os.times()
        subprocess.run([sys.executable, *words], env=kept, stdout=subprocess.DEVNULL, check=True)
        after = os.times()
        found.append(
            after.children_user + after.children_system - before.children_user - before.children_system
        )
    return min(found)


def timed(words: list[str], into: Path, processes: int) -> list[float]:
    """Return the seconds of so many processes of this interpreter, sorted."""
    into.unlink(missing_ok=True)
    runs = ["--processes", str(processes), "--values", "1", "--loops", "1", "--warmups", "0", "--quiet"]
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    subprocess.run([sys.executable, *words], env=kept, stdout=subprocess.DEVNULL, check=True)
    subprocess.run(
        [sys.executable, "-m", "pyperf", "command", *runs, "--inherit-environ", ",".join(kept), "-o", str(into), "--",
         sys.executable, *words],
        env=kept, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True,
    )  # fmt: skip
    found = json.loads(into.read_text(encoding="utf-8"))
    return sorted(value for run in found["benchmarks"][0]["runs"] for value in run.get("values", ()))


if __name__ == "__main__":
    print(report())
