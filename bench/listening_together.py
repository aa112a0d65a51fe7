"""Six strings at once, and all frets of a string in one slide, against the true lines of what was made.

python -m bench.listening_together [--strums 40] [--slides 20]
"""

import argparse

import numpy as np

from bench.ears.coupled import RATE_HZ
from bench.ears.strums import TUNINGS_HZ, slide, strum
from breakangle.listening.stream import takes_in
from breakangle.listening.together.slide import frets_in
from breakangle.listening.together.strum import OpenNote, strummed

SEED = 149
GOOD_CENTS = 0.45


def off_cents(hz: float, lines: tuple[float, float]) -> float:
    """How far a pitch lies outside two lines, in cents; nothing between them."""
    low, high = min(lines), max(lines)
    return 0.0 if low <= hz <= high else float(min(abs(1200 * np.log2(hz / one)) for one in lines))


def strums(count: int) -> list[str]:
    """Rows of the table for strums."""
    rows = []
    for name, tuning in zip(("standard", "open", "bass"), TUNINGS_HZ, strict=True):
        off, spread, sure, none = [], [], [], 0
        for seed in range(count):
            rng = np.random.default_rng([SEED, seed, len(name)])
            made = strum(rng, tuning)
            takes = takes_in(made.sound, RATE_HZ)
            start = round(takes[0].start_s * RATE_HZ)
            notes = [
                OpenNote(at, hz, b)
                for at, (hz, b) in enumerate(zip(made.nominal_hz, made.known_b, strict=True))
            ]
            for one, lines in zip(strummed(made.sound[start:], RATE_HZ, notes), made.lines_hz, strict=True):
                if one.pitch is None:
                    none += 1
                    continue
                off.append(off_cents(one.pitch.law.partial_one_hz, lines))
                spread.append(one.pitch.uncertainty_cents)
                sure.append(one.sure)
        o, s = np.array(off), np.array(spread)
        good = (s < GOOD_CENTS) & np.array(sure)
        rows.append(
            f"    {name}: {len(o)} strings, outside their lines by {np.median(o):.2f} c (95 of 100 "
            f"{np.percentile(o, 95):.2f}); sure to a cent {100 * good.mean():.0f} of 100, of these over 1 c off "
            f"{int(np.sum(o[good] > 1))}, within 1.96 uncertainties "
            f"{100 * np.mean(o < 1.96 * s):.0f} of 100; not told {none}"
        )
    return rows


def slides(count: int) -> list[str]:
    """Rows of the table for slides."""
    rows = []
    for open_hz in (41.203, 82.407, 146.832, 329.628):
        off, spread, good, heard, wanted = [], [], [], 0, 0
        for seed in range(count):
            made = slide(np.random.default_rng([SEED + 1, seed, round(open_hz)]), open_hz)
            found = {one.fret: one for one in frets_in(made.sound, RATE_HZ, open_hz, 24)}
            wanted += len(made.lines_hz)
            for fret, lines in enumerate(made.lines_hz):
                if fret in found:
                    heard += 1
                    off.append(off_cents(found[fret].hz, lines))
                    spread.append(found[fret].uncertainty_cents)
                    good.append(found[fret].good)
        o, s, g = np.array(off), np.array(spread), np.array(good)
        rows.append(
            f"    slide on {open_hz:.1f} Hz: {heard} of {wanted} frets heard, outside their lines by "
            f"{np.median(o):.2f} c (95 of 100 {np.percentile(o, 95):.2f}); good {100 * g.mean():.0f} of 100, of these "
            f"over 1 c off {int(np.sum(o[g] > 1))}; within 1.96 uncertainties {100 * np.mean(o < 1.96 * s):.0f} of 100"
        )
    return rows


def lines(strum_count: int, slide_count: int) -> str:
    """Every row, for so many strums of each tuning and slides on each string."""
    head = f"{strum_count} strums of each tuning, {slide_count} slides on each string, seed {SEED}"
    return "\n".join([head, *strums(strum_count), *slides(slide_count)])


def report(quick: bool = False) -> str:
    """Pitch of each string of a strum, and of each fret of a slide."""
    return lines(4, 2) if quick else lines(40, 20)


def main() -> None:
    """Run with counts of one's own."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--strums", type=int, default=40, help="of each tuning")
    words.add_argument("--slides", type=int, default=20, help="on each string")
    asked = words.parse_args()
    print(lines(asked.strums, asked.slides), flush=True)


if __name__ == "__main__":
    main()
