"""Listening again to many recordings on a fleet's engine, as a ratio to their own length.

    python -m bench fleet_listening                    # small: 12 recordings
    python -m bench.fleet_listening --count 1000       # the line of docs/fleet.md

Recording n holds four plucks of `tests/listening_fixtures` (B0 to E6, glide, hum and two polarisations), seeds 4 n to
4 n + 3, 44.1 kHz, 16 bit, FLAC. A rate is the sound's length over the time the workers spent on it (it stands in the
lists of what is done), so it is of one core; reading and decoding the files counts.
"""

import argparse
import multiprocessing
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyarrow.parquet as parquet
import soundfile

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from breakangle.fleet.engine import local
from breakangle.fleet.items import SOUNDS, items_of
from breakangle.fleet.run import run
from listening_fixtures.plucks import random_pluck, render, with_glide, with_hum, with_second

SMALL, PLUCKS, RATE_HZ, WORKERS = 12, 4, 44_100, 2
SPANS = ((82.4, 1318.5), (30.87, 98.0))
ALOUD = 0.5  # of full scale


def recorded(number: int, folder: Path) -> None:
    """Write recording `number`, unless it is there."""
    path = folder / f"recording {number:05d}.flac"
    if path.exists():
        return
    parts = []
    for seed in range(PLUCKS * number, PLUCKS * (number + 1)):
        rng = np.random.default_rng(seed)
        pluck = with_second(with_hum(with_glide(random_pluck(rng, *SPANS[seed % 2]), rng, True), rng), rng)
        parts.append(render(pluck, seed))
    sound = np.concatenate(parts)
    soundfile.write(path, ALOUD * sound / np.abs(sound).max(), RATE_HZ, subtype="PCM_16")


def _task(task: tuple[int, Path]) -> None:
    recorded(*task)


def lines(count: int, folder: Path) -> list[str]:
    """Return what listening to `count` recordings takes."""
    sounds = folder / "recordings"
    sounds.mkdir(parents=True, exist_ok=True)
    with multiprocessing.get_context("spawn").Pool(WORKERS) as pool:
        pool.map(_task, [(number, sounds) for number in range(count)], chunksize=8)
    names = [f"recording {number:05d}.flac" for number in range(count)]
    seconds = sum(soundfile.info(sounds / name).duration for name in names)
    with local(WORKERS) as engine:
        items = items_of([sounds / name for name in names], SOUNDS)
        outcome = run("listen", items, folder / "heard", engine, batch=max(1, min(8, count // 8)))
    spent = sum(
        sum(parquet.read_table(path, columns=["seconds"]).column("seconds").to_pylist())
        for path in (folder / "heard" / "parts").glob("*.done.parquet")
    )
    rows = parquet.read_table(outcome.results, columns=["verdict"]).column("verdict").to_pylist()
    return [
        f"{count} recordings, {seconds / 60:.0f} minutes, {WORKERS} workers: {outcome.failed} failed, "
        f"{len(rows)} plucks heard of {PLUCKS * count}, {rows.count('good')} of them good",
        f"{seconds / spent:.0f} x real time a core while at work; {seconds / outcome.seconds / WORKERS:.0f} x over the "
        f"whole run of {outcome.seconds:.0f} s",
    ]


def report(quick: bool = False) -> str:
    """Return the lines for a few recordings."""
    with tempfile.TemporaryDirectory() as folder:
        return "\n".join(lines(4 if quick else SMALL, Path(folder)))


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--count", type=int, default=1000)
    with tempfile.TemporaryDirectory() as place:
        print("\n".join(lines(words.parse_args().count, Path(place))), flush=True)
