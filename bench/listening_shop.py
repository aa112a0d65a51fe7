"""Takes of another physics in the sounds of a shop: how many are called good, and whether what is called good is right.

Strings whose polarisations are coupled mode by mode (`bench.ears.coupled`); a good take must lie on its true lines,
or between them, within a cent. Each take goes clean, then through everything a shop, a phone or a file does to it.
`python -m bench.listening_shop 60 clean voice` counts so many plucks, through the sounds that are named alone.
"""

import sys
from collections import Counter
from collections.abc import Sequence

import numpy as np

from bench.ears.coupled import RATE_HZ, Played, played
from bench.ears.shop_sounds import SHOP, level
from breakangle.listening.stream import takes_in
from breakangle.listening.takes.reasons import Verdict

SEED = 97
BASS_SHARE = 4  # every so many is a bass
Random = np.random.Generator


def report(quick: bool = False) -> str:
    """Good takes, those of them within half a cent of the truth, and those more than a cent off."""
    return counted(("clean", *SHOP), 12 if quick else 250)


def counted(sounds: Sequence[str], count: int) -> str:
    """The first so many plucks, each through each of these sounds."""
    strings = [one_pluck(seed) for seed in range(count)]
    lines = [f"{count} plucks, each through {len(sounds)} sounds, seed {SEED}"]
    wrong_total = 0
    for name in sounds:
        line, wrong = _row(name, strings)
        lines.append(line)
        wrong_total += wrong
    return "\n".join(
        [
            *lines,
            f"    all {count * len(sounds)} takes: {wrong_total} called good and over a cent off their true lines",
        ]
    )


def _row(name: str, strings: list[Played]) -> tuple[str, int]:
    """What was heard of all strings through one sound, and how many were called good and over a cent off."""
    good = near = buzzing = wrong = 0
    why: Counter[str] = Counter()
    for seed, string in enumerate(strings):
        rng = np.random.default_rng([SEED + 1, seed])
        sound = SHOP[name](string.sound, rng) if name in SHOP else string.sound
        takes = takes_in(in_a_room(sound, rng), RATE_HZ)
        if not takes:
            continue
        take = takes[0]
        why.update(one.code for one in take.reasons)
        buzzing += take.judged.buzz is not None and take.judged.buzz.heard
        if take.verdict is Verdict.GOOD and take.pitch is not None:
            off = off_cents(take.pitch.law.partial_one_hz, string)
            good, near, wrong = good + 1, near + (off <= 0.5), wrong + (off > 1)
    reasons = ", ".join(f"{code} {number}" for code, number in why.most_common(4))
    share = 100 / len(strings)
    return (
        f"    {name:13s} good {share * good:5.1f} %, good and within 0.5 c {share * near:5.1f} %, "
        f"good and over 1 c off {wrong}; falsely buzzing {share * buzzing:.1f} %; {reasons}",
        wrong,
    )


def one_pluck(seed: int) -> Played:
    rng = np.random.default_rng([SEED, seed])
    low, high = (30.9, 98.0) if seed % BASS_SHARE == BASS_SHARE - 1 else (82.4, 660.0)
    hz = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    return played(rng, hz, float(rng.choice([-1, 1]) * rng.uniform(0.1, 1.5)))


def in_a_room(sound: np.ndarray, rng: Random) -> np.ndarray:
    """The sound after a fifth of a second of quiet, with noise 45 dB below."""
    out = np.concatenate([np.zeros(RATE_HZ // 5), 0.5 * sound / np.abs(sound).max()])
    return np.asarray(out + level(out) * 10 ** (-45 / 20) * rng.standard_normal(len(out)))


def off_cents(hz: float, string: Played) -> float:
    """How far a pitch lies outside a string's true lines, in cents; nothing between them."""
    low, high = min(string.lines_hz), max(string.lines_hz)
    if low <= hz <= high:
        return 0.0
    return float(min(abs(1200 * np.log2(hz / line)) for line in string.lines_hz))


if __name__ == "__main__":
    print(counted(sys.argv[2:], int(sys.argv[1])))
