"""A smaller closed loop of the swap: predictions against necks of another physics, and the answers that they give.

The first necks of the full loop (`bench/swap.py`), which has 400: the figures of one neck hang together, so that 64
necks leave a share uncertain by three in a hundred.
"""

from collections import defaultdict
from functools import cache

import numpy as np
import pytest

from bench.swap import FAMILIES, run

AS_THEY_COME, WELL_SET_UP = 10, 6
QUANTITIES = {
    "relief", "action", "intonation", "nut clearance", "every gap", "change of every gap", "change of every note",
    "neck load", "claw travel",
}  # fmt: skip


@cache
def loop() -> tuple[dict[str, list[bool]], list[tuple[str, float, bool]]]:
    """Return for each quantity whether each truth lay inside, over all kinds; and the answers with the truth."""
    inside: dict[str, list[bool]] = defaultdict(list)
    answers = []
    for kind, bridge_kind in FAMILIES:
        for well, count in ((False, AS_THEY_COME), (True, WELL_SET_UP)):
            every, told = run(kind, bridge_kind, count, well)
            for name, values in every.items():
                inside[name] += [one for one, _ in values]
            answers += told if well else []
    return inside, answers


@pytest.mark.parametrize("quantity", sorted(QUANTITIES))
def test_truths_lie_within_the_stated_intervals(quantity):
    """Nine in ten, or as many as so few necks may miss by luck one time in twenty if it were nine in ten."""
    from scipy.stats import binom

    inside, _ = loop()
    necks = len(inside["claw travel"]) if quantity == "claw travel" else len(inside["neck load"])
    assert np.mean(inside[quantity]) >= binom.ppf(0.05, necks, 0.9) / necks


def test_nine_in_ten_over_everything():
    inside, _ = loop()
    assert np.mean([np.mean(inside[name]) for name in QUANTITIES]) >= 0.90


def test_a_yes_is_mostly_right_and_a_no_never_far_off():
    _, answers = loop()
    yes = [out for answer, _, out in answers if answer == "yes"]
    assert len(yes) >= 10
    assert np.mean(yes) >= 0.75
    assert not any(out for answer, chance, out in answers if answer == "no")
