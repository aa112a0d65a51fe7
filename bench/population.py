"""What many necks teach of one not seen before: three kinds of fleet, against the family's prior and the true means.

    python -m bench population             # 60 fleets of each kind
    python -m bench.population --count 400 # the table of docs/fleet.md

Necks are drawn here, not by the model that learns from them: each make's mean about the family's and each neck about
its make's, from Student's t of 6 degrees where the model believes in normal spreads, seen with an error of a third of
the family's spread. Error is the mean of |expected - true| of what a turn does to the neck's first bending shape.
"""

import argparse

import numpy as np

from breakangle.planning.estimate.population import Evidence, evidence_of, population_of
from breakangle.planning.kinds.prior import Responses

COVARIANCE = np.diag([0.09, 0.01, 0.01, 0.01, 0.02])
FAMILY = Responses(np.array([-0.3, 0.0, 0.0, 1.0, 0.01]), COVARIANCE)
SEEN_RATIO = 1 / 3  # error of what one neck's visits tell, over the family's spread
NEW_NECKS = 20  # of each make
FLEETS = {  # name: makes, specimens of each, spread within and between over the family's (together 0.77 of it)
    "makes differ, 1 : 2": (6, 8, 0.346, 0.693),
    "nothing to learn, 1 : 0": (6, 8, 0.775, 0.0),
    "one make of three, 1 : 0": (1, 3, 0.775, 0.0),
    "one make of three, 1 : 2": (1, 3, 0.346, 0.693),
}


def _drawn(rng: np.random.Generator, mean: np.ndarray, ratio: float) -> np.ndarray:
    """Return one that scatters about a mean, from Student's t of 6 degrees scaled to the spread."""
    return mean + ratio * np.linalg.cholesky(COVARIANCE) @ rng.standard_t(6, len(mean)) * np.sqrt(4 / 6)


def _seen(rng: np.random.Generator, make: str, true: np.ndarray) -> Evidence:
    """Return what a neck's visits tell: its true answers with an error, on top of the family's prior."""
    error = SEEN_RATIO**2 * COVARIANCE
    read = true + np.linalg.cholesky(error) @ rng.normal(size=len(true))
    own, before = np.linalg.inv(error), np.linalg.inv(COVARIANCE)
    covariance = np.linalg.inv(own + before)
    return evidence_of(make, Responses(covariance @ (own @ read + before @ FAMILY.mean), covariance), FAMILY)


def fleet(seed: int, makes: int, each: int, within: float, between: float) -> np.ndarray:
    """Return, for new necks of every make: error by the family, by the fleet, by the true means, inside its 95 %."""
    rng, means = np.random.default_rng(seed), {}
    evidence = []
    for make in map(str, range(makes)):
        means[make] = _drawn(rng, FAMILY.mean, between)
        evidence += [_seen(rng, make, _drawn(rng, means[make], within)) for _ in range(each)]
    learned = population_of(evidence, Responses(np.zeros(len(FAMILY.mean)), COVARIANCE))
    found = []
    for make, mean in means.items():
        expected = learned.of(make)
        for _ in range(NEW_NECKS):
            true, told = _drawn(rng, mean, within), FAMILY.mean + expected.mean
            half = 1.96 * np.sqrt(expected.covariance[0, 0])
            errors = [abs(true - one)[0] for one in (FAMILY.mean, told, mean)]
            found.append([*errors, errors[1] <= half])
    return np.array(found).mean(axis=0)


def report(quick: bool = False, count: int = 60) -> str:
    """Return the table."""
    count = 8 if quick else count
    lines = [f"{'fleet':26s} {'lower than the family':>21s} {'over true means':>15s} {'inside 95 %':>11s}"]
    for name, kind in FLEETS.items():
        family, by_fleet, known, inside = np.mean([fleet(seed, *kind) for seed in range(count)], axis=0)
        lines.append(
            f"{name:26s} {100 * (1 - by_fleet / family):20.1f}% {by_fleet / known:15.2f} {100 * inside:10.1f}%"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--count", type=int, default=400)
    print(report(count=words.parse_args().count))
