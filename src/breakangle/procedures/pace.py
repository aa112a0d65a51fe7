"""How long a bench takes for each step, learned from the moments at which earlier runs were ticked.

A step takes from the tick before it to its own. What was ticked in one go, or in a few seconds, was done away from the
screen and tells nothing; what stood longer than any such step takes is a pause. Of what is left the median is taken,
which a few odd ones do not move.
"""

from collections import Counter
from collections.abc import Iterable
from statistics import median

from breakangle.procedures.model import Procedure
from breakangle.procedures.way import Way

LEAST_S = 10.0  # ticked sooner, it was done before; chosen
LONGEST_TIMES, LONGEST_LEAST_S = 4.0, 600.0  # of its usual minutes, and never less than ten minutes; chosen
FEWEST = 3  # runs that timed a step, before its own minutes are believed; chosen


def learned_minutes(procedure: Procedure, ways: Iterable[Way]) -> dict[str, float]:
    """Return the minutes of each step that at least three of these runs have timed, by its name.

    Those that go with the number of strings are for six, whatever they were timed on.
    """
    timed: dict[str, list[float]] = {step.id: [] for step in procedure.steps}
    for way in ways:
        for name, seconds in seconds_of(procedure, way).items():
            timed[name].append(seconds)
    return {name: median(seconds) / 60.0 for name, seconds in timed.items() if len(seconds) >= FEWEST}


def seconds_of(procedure: Procedure, way: Way) -> dict[str, float]:
    """Return what one run tells of its steps: the seconds from the tick before, pauses and late ticks left out."""
    usual = {
        step.id: 60.0 * step.minutes + (step.timer.least_s if step.timer else 0.0) for step in procedure.steps
    }
    shares = {step.id: step.share(way.facts) for step in procedure.steps}
    ticks = sorted((mark.at, name) for name, mark in way.marks.items())
    alone = {at for at, count in Counter(at for at, _ in ticks).items() if count == 1}
    found, before = {}, way.begun_at
    for at, name in ticks:
        seconds, before = (at - before).total_seconds(), at
        longest = max(LONGEST_TIMES * usual.get(name, 0.0) * shares.get(name, 1.0), LONGEST_LEAST_S)
        done = name in usual and at in alone and way.marks[name].state == "done"
        if done and LEAST_S <= seconds <= longest:
            found[name] = seconds / shares[name]
    return found
