"""How fast listening is, as a ratio to the sound's own length, and what a live stream costs."""

import os
import subprocess
import sys
import tempfile
import time
import tracemalloc
from pathlib import Path

import numpy as np
from threadpoolctl import threadpool_limits

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from breakangle.listening.stream import FirstReading, Listener, SteadyReading, TakeJudged, listen
from breakangle.listening.takes.judge import judge
from listening_fixtures.plucks import Pluck, random_pluck, render, with_glide, with_hum, with_second

RATE = 44_100


def _takes(count: int) -> list[str]:
    lines = []
    for words, second in (("one polarisation", False), ("two polarisations", True)):
        rng = np.random.default_rng(3)
        ratios = []
        for seed in range(count):
            span = ((82.4, 1318.5), (30.87, 98.0))[seed % 2]
            pluck = with_hum(with_glide(random_pluck(rng, *span), rng, True), rng)
            sound = render(with_second(pluck, rng) if second else pluck, seed)
            judge(sound, RATE)
            before = time.process_time()
            judge(sound, RATE)
            ratios.append(len(sound) / RATE / (time.process_time() - before))
        lines.append(f"    {words}: {np.median(ratios):.0f} x real time, worst {min(ratios):.0f} x")
    return ["Takes of 2.4 s, decoded to judged, one core", *lines]


def _long(minutes: tuple[int, int]) -> list[str]:
    rng = np.random.default_rng(1)
    one = render(Pluck(110.0, glide_cents=4.0, energy_law=True, duration_s=3.0), 1)
    lines = ["Long recordings: time and memory"]
    for length in minutes:
        count = length * 20

        def blocks(count: int = count) -> "object":
            for _ in range(count):
                yield one * rng.uniform(0.5, 1.0)

        tracemalloc.start()
        before = time.process_time()
        found = sum(isinstance(event, TakeJudged) for event in listen(blocks(), RATE))
        spent, peak = time.process_time() - before, tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        lines.append(
            f"    {length} min: {found} takes, {spent:.1f} s ({60 * length / spent:.0f} x, memory watched), "
            f"{peak / 1e6:.1f} MB at most"
        )
    return lines


def _verb(minutes: tuple[int, ...]) -> list[str]:
    """The verb itself on files of so many minutes, 18 plucks each: all checks, buzz and decay; one process."""
    import soundfile

    rng = np.random.default_rng(2)
    plucks = [
        render(
            with_second(with_hum(with_glide(random_pluck(rng, hz, 1.0001 * hz), rng, True), rng), rng), seed
        )
        for seed, hz in enumerate((329.63, 246.94, 196.0, 146.83, 110.0, 82.41) * 3)
    ]
    minute = np.concatenate([np.pad(one, (0, RATE * 10 // 3 - len(one))) for one in plucks])
    lines = ["Files through `breakangle listen --json`: processor time, most memory"]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.wav"
        for length in minutes:
            with soundfile.SoundFile(path, "w", RATE, 1, "PCM_16") as file:
                for _ in range(length):
                    file.write(minute)
            words = (sys.executable, "-m", "breakangle.cli", "listen", str(path), "--json")
            process = subprocess.Popen(words, stdout=subprocess.DEVNULL)
            _, _, used = os.wait4(process.pid, 0)
            spent = used.ru_utime + used.ru_stime
            lines.append(
                f"    {length} min: {spent:.1f} s ({60 * length / spent:.0f} x real time on one core), "
                f"{used.ru_maxrss / 1024:.0f} MB at most"
            )
    return lines


def _live(count: int) -> list[str]:
    lines = ["Live at 48 kHz in blocks of 512, from pluck to reading"]
    for name, hz in (("B0", 30.87), ("E1", 41.2), ("E2", 82.41), ("E4", 329.63), ("E6", 1318.5)):
        first, steady, cost = [], [], []
        for seed in range(count):
            pluck = Pluck(hz, decay_one_per_s=1 + hz / 500, glide_cents=4.0, energy_law=True, silence_s=0.5)
            sound = render(Pluck(**{**pluck.__dict__, "rate_hz": 48_000}), seed)
            listener, before = Listener(48_000), time.process_time()
            for at in range(0, len(sound), 512):
                for event in listener.push(sound[at : at + 512]):
                    heard_s = (at + 512) / 48_000 - 0.5
                    if isinstance(event, FirstReading):
                        first.append(heard_s)
                    if isinstance(event, SteadyReading):
                        steady.append(1200 * abs(np.log2(event.pitch_hz / hz)))
            listener.finish()
            cost.append((time.process_time() - before) / (len(sound) / 48_000))
        lines.append(
            f"    {name}: first reading {1e3 * max(first):.0f} ms at most, at 1 s off by {max(steady):.3f} c at most, "
            f"{100 * float(np.mean(cost)):.0f} % of one core"
        )
    return lines


def report(quick: bool = False) -> str:
    """Ratios to real time, memory, latency; one thread, so that one core is one core."""
    with threadpool_limits(1):
        return "\n".join(
            [
                *_takes(10 if quick else 40),
                *_long((1, 2) if quick else (2, 10)),
                *_verb((1, 4) if quick else (1, 60)),
                *_live(2 if quick else 6),
            ]
        )
