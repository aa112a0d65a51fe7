"""A table of the closed loop's groups, a line each: as a benchmark's report, and as a command of its own."""

import argparse
from collections.abc import Callable

from bench._served import GROUPS, Group

MAIN_GROUPS = ("electric six", "electric seven", "bass four", "steel acoustic")
COUNT, QUICK_COUNT = 24, 4  # instruments of each group

Line = Callable[[Group, int, int], str]


def report_of(head: str, line: Line, quick: bool) -> str:
    """Return the table of the main groups."""
    count = QUICK_COUNT if quick else COUNT
    return "\n".join([head, *(line(one, count, 0) for one in GROUPS if one.name in MAIN_GROUPS)])


def print_asked(description: str, head: str, line: Line, words: list[str]) -> int:
    """Print the table that the words of a command ask for, and return its exit code."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--count", type=int, default=COUNT, help="instruments a group")
    parser.add_argument("--first", type=int, default=0, help="the first instrument's number")
    parser.add_argument("--group", action="append", help="a group's name; the main four without it")
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_COUNT} instruments a group")
    asked = parser.parse_args(words)
    print(head)
    for one in GROUPS:
        if one.name in (asked.group or MAIN_GROUPS):
            print(line(one, QUICK_COUNT if asked.quick else asked.count, asked.first), flush=True)
    return 0
