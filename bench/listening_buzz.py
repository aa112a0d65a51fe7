"""Buzz as heard: found, not found where there is none, and the crown named, on strings of two different physics.

Half of the takes are a string by finite differences of the bench's own, half this project's contact model, at the class
"heard" and above. Each goes through a body or a pickup, some through a room, with noise 35 to 50 dB below.

All of it takes half an hour of a core, so it goes in parts: `python -m bench.listening_buzz contact 1/5 > one` sounds
one of five parts of one physics (`differences` or `contact`), `python -m bench.listening_buzz join one two …` tells of
all parts together.
"""

import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from bench.ears.contact_rattles import sounded
from bench.ears.difference_string import swing
from bench.ears.rattles import FRETS, over_crowns
from bench.ears.sounds import RATE_HZ, recorded, string_force, through_body, through_pickup
from breakangle.listening.buzz.place import place_of
from breakangle.listening.stream import Take, takes_in

SEED = 83
SECONDS = 1.6
TOGETHER = 40  # strings by finite differences that are followed at once
KINDS = ("electric-guitar", "steel-acoustic-guitar", "nylon-acoustic-guitar", "bass-four")
Random = np.random.Generator
# What was heard of one take: whether it buzzes, whether that was heard, the crown struck, the one named and its chance.
Row = tuple[bool, bool | None, int, int, float]


def report(quick: bool = False, count: int = 250) -> str:
    """Shares found, falsely found, and crowns named rightly."""
    count = 20 if quick else count
    return told({name: made(count) for name, made in PHYSICS.items()})


def told(found: dict[str, list[Row]]) -> str:
    """What was heard of takes by their physics, and of all together, in words."""
    lines = [f"buzzing and clean takes of two physics, seed {SEED}"]
    every = [row for rows in found.values() for row in rows]
    for name, rows in (*found.items(), ("all", every)):
        buzzing = [row for row in rows if row[0]]
        clean = [row for row in rows if not row[0]]
        heard = [row for row in buzzing if row[1]]
        near = [abs(row[3] - row[2]) <= 1 for row in heard]
        named = [(abs(row[3] - row[2]) <= 1) for row in heard if row[4] >= 0.4]
        false = sum(bool(row[1]) for row in clean)
        untold = sum(row[1] is None for row in rows)
        lines.append(
            f"    {name}: found {len(heard)} of {len(buzzing)} ({100 * len(heard) / len(buzzing):.1f} %); falsely "
            f"{false} of {len(clean)} ({100 * false / len(clean):.1f} %); likeliest crown right or beside it "
            f"{100 * np.mean(near):.0f} %; named (chance 0.4 and up) {len(named)} of {len(heard)}, of these right or "
            f"beside {100 * np.mean(named):.0f} %; could not be told {untold}"
        )
    return "\n".join(lines)


def _through(sound: np.ndarray, hz: float, rng: Random) -> np.ndarray:
    found = (
        through_body(sound, rng) if rng.random() < 0.5 else through_pickup(sound, hz, rng.uniform(0.06, 0.25))
    )
    if rng.random() < 0.3:
        found = in_room(found, rng)
    return recorded(found, rng, rng.uniform(35, 50))


def in_room(sound: np.ndarray, rng: Random) -> np.ndarray:
    """The sound in a room that rings for 0.2 to 0.6 s, 12 to 26 dB below what comes straight."""
    t = np.arange(RATE_HZ) / RATE_HZ
    tail = rng.standard_normal(RATE_HZ) * np.exp(-6.9 * t / rng.uniform(0.2, 0.6))
    tail *= 10 ** (-rng.uniform(12, 26) / 20) / np.sqrt(np.sum(tail**2))
    tail[0] += 1.0
    size = len(sound) + RATE_HZ
    return np.asarray(np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)])


def _told(sound: np.ndarray, buzzes: bool, crown: int, frets: np.ndarray, share: np.ndarray) -> Row:
    takes: list[Take] = takes_in(sound, RATE_HZ)
    buzz = takes[0].judged.buzz if takes else None
    if buzz is None:
        return buzzes, None, crown, -9, 0.0
    place = place_of(buzz, frets.tolist(), share) if buzz.heard else None
    return buzzes, buzz.heard, crown, place.fret if place else -9, place.chances[0] if place else 0.0


def _differences(count: int, part: int = 0, parts: int = 1) -> list[Row]:
    rows: list[Row] = []
    for proud in (True, False):
        done, batch = 0, part
        while done < count:
            rng = np.random.default_rng([SEED, proud, batch])
            low, high = ((82.0, 200.0), (41.0, 98.0), (150.0, 350.0))[(batch + 1) % 3]
            batch += parts
            strings, stop, _ = over_crowns(rng, TOGETHER, low, high, proud)
            swung = swing(strings, SECONDS)
            for index in range(TOGETHER):
                struck = float(swung.impulse[index].sum()) > 0
                # A clean one that grazes all the same, or a proud crown that was hardly touched, is neither.
                if done >= count or (proud and swung.last_s[index] < 0.1) or (struck and not proud):
                    continue
                hz, number = float(strings.hz[index]), np.arange(1, FRETS + 1)
                sound = _through(string_force(swung, index, rng.uniform(0.3, 1.0)), hz, rng)
                beyond = number > stop[index]
                struck_most = int(np.argmax(swung.impulse[index])) + 1 if proud else 0
                rows.append(
                    _told(sound, proud, struck_most, number[beyond], strings.crown_ratio[index][beyond])
                )
                done += 1
    return rows


def _contact(count: int, part: int = 0, parts: int = 1) -> list[Row]:
    import soxr

    rows: list[Row] = []
    for proud in (True, False):
        done, batch = 0, part
        while done < count:
            rng = np.random.default_rng([SEED + 1, proud, batch])
            kind = KINDS[batch % len(KINDS)]
            batch += parts
            for one in sounded(rng, kind, proud, 5):
                if done >= count:
                    break
                sound = soxr.resample(one.force, one.rate_hz, RATE_HZ)
                sound = _through(sound / np.max(np.abs(sound)), one.hz, rng)
                rows.append(_told(sound, proud, one.crown, one.frets, one.share))
                done += 1
    return rows


PHYSICS: dict[str, Callable[..., list[Row]]] = {"differences": _differences, "contact": _contact}


def main(words: Sequence[str]) -> str:
    """One part of one physics as JSON, or all parts together in words."""
    if words[0] == "join":
        found: dict[str, list[Row]] = {name: [] for name in PHYSICS}
        for path in words[1:]:
            for name, rows in json.loads(Path(path).read_text()).items():
                found[name] += [tuple(row) for row in rows]
        return told(found)
    part, parts = map(int, words[1].split("/"))
    count = int(words[2]) if len(words) > 2 else 250
    rows = PHYSICS[words[0]](-(-count // parts), part - 1, parts)
    return json.dumps({words[0]: rows}, default=lambda one: one.item())


if __name__ == "__main__":
    print(main(sys.argv[1:]))
