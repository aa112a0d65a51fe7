"""Listening again to many recordings on a fleet's engine, as a ratio to their own length.

    python -m bench fleet_listening                    # small: 12 recordings
    python -m bench.fleet_listening --count 1000       # the line of docs/fleet.md; --folder F goes on with what F holds

Recording n holds four plucks of `tests/listening_fixtures` (B0 to E6, glide, hum and two polarisations), seeds 4 n to
4 n + 3, 44.1 kHz, 16 bit, FLAC. A rate is the sound's length over the processor's time that all processes took for it,
so it is of one core, on a busy machine too; loading the program, reading and decoding the files count.
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

from bench.fleet import spent_s
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
        engine.workers()  # all begun
        before_s = spent_s()
        outcome = run("listen", items, folder / "heard", engine, batch=max(1, min(8, count // 8)))
        spent = spent_s() - before_s
    rows = parquet.read_table(outcome.results, columns=["verdict"]).column("verdict").to_pylist()
    told = [
        f"{count} recordings, {seconds / 60:.0f} minutes, {WORKERS} workers: {outcome.failed} failed, "
        f"{len(rows)} plucks heard of {PLUCKS * count}, {rows.count('good')} of them good"
    ]
    if outcome.before:  # the rest's own length is not known here
        return [*told, f"{outcome.before} done before: a rate is told of a whole run only"]
    return [
        *told,
        f"{seconds / spent:.0f} x real time of the processor, all processes; "
        f"{seconds / outcome.seconds / WORKERS:.0f} x a core by the clock over the whole run of "
        f"{outcome.seconds:.0f} s",
    ]


def report(quick: bool = False) -> str:
    """Return the lines for a few recordings."""
    with tempfile.TemporaryDirectory() as folder:
        return "\n".join(lines(4 if quick else SMALL, Path(folder)))


if __name__ == "__main__":
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--count", type=int, default=1000)
    words.add_argument("--folder", type=Path)
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as place:
        print("\n".join(lines(asked.count, asked.folder or Path(place))), flush=True)
