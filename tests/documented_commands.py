"""The commands that the README and the docs show."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
# They run until they are stopped: `test_make_run_opens_the_bench_app...`,
# `tests/browser/places/test_screens_network.py`.
ENDLESS = ("serve",)


def commands(page: Path) -> list[str]:
    """Return the commands of a page in the order they stand: lines of shell blocks, and whole ones in the text."""
    text = page.read_text(encoding="utf-8")
    block = re.compile(r"```(\w*)\n(.*?)```", re.DOTALL)
    shell = [match for match in block.finditer(text) if match[1] in ("", "sh")]
    found = [(match.start(2), line) for match in shell for line in match[2].splitlines()]
    outside = block.sub(lambda match: " " * len(match[0]), text)
    found += [(match.start(), match[1]) for match in re.finditer(r"`(breakangle [^`]+)`", outside)]
    lines = [
        re.sub(r"\s+", " ", re.sub(r"\s#.*", "", line)).strip()
        for _, line in sorted(found, key=lambda one: one[0])
    ]
    return [line for line in lines if line.startswith("breakangle ") and line.split()[1] not in ENDLESS]


def documented_verbs() -> set[str]:
    """Return the verbs of those commands."""
    verbs = {line.split()[1] for page in PAGES for line in commands(page)}
    return {verb for verb in verbs if not verb.startswith("-")}
