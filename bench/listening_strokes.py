"""How hard and where strings were plucked, as heard, on strings by finite differences of the bench's own.

Height is the whole displacement. With the place of the pluck known (to 3 mm) it should come back within 10 %, with the
place heard within 20 %; an interval of 95 % should hold it 95 times in 100.
"""

import numpy as np

from bench.ears.sounds import RATE_HZ, drawn, recordings
from breakangle.listening.stream import takes_in
from breakangle.listening.stroke.height import StringFacts, stroke_of

SEED = 71
# Name, lowest and highest pitch, EA/T (steel, wound, nylon of Anderson and Beausoleil 2024), whether a bass.
SETS = (
    ("steel, wound", 82.4, 165.0, (90.0, 320.0), False),
    ("steel, plain", 165.0, 330.0, (120.0, 400.0), False),
    ("nylon", 82.4, 247.0, (48.0, 111.0), False),
    ("bass", 41.2, 98.0, (100.0, 350.0), True),
)


def report(quick: bool = False) -> str:
    """Errors of height and place, and how often intervals hold."""
    count = 10 if quick else 60
    lines = [
        f"{count} strings of each set, half by body and microphone, half by pickup, noise 40 dB below; seed {SEED}"
    ]
    for number, (name, low, high, axial, bass) in enumerate(SETS):
        rng = np.random.default_rng([SEED, number])
        strings = drawn(rng, count, low, high, axial, bass)
        known: list[tuple[float, bool]] = []
        heard: list[tuple[float, bool]] = []
        place: list[float] = []
        for index, sound in enumerate(recordings(strings, rng)):
            takes = takes_in(sound, RATE_HZ)
            length, truth = float(strings.length_mm[index]), float(strings.height_mm[index])
            facts = StringFacts(length, float(strings.axial_ratio[index]), 0.02, 80.0 / 648.0)
            at = float(strings.pluck_ratio[index]) * length
            for point, rows in ((at, known), (None, heard)):
                pitch = takes[0].pitch if takes else None
                stroke = None if pitch is None else stroke_of(pitch, facts, point)
                if stroke is None:
                    rows.append((np.nan, False))
                    continue
                rows.append((stroke.height_mm / truth - 1, stroke.low_mm <= truth <= stroke.high_mm))
                if point is None:
                    place.append(stroke.point.middle * length - at)
        lines += [_row(name, "place known", known, 0.10), _row(name, "place heard", heard, 0.20)]
        lines.append(
            f"    {name:13s} place of the pluck: off by {np.median(np.abs(place)):.1f} mm in the middle, "
            f"{np.quantile(np.abs(place), 0.9):.1f} mm for nine of ten"
        )
    return "\n".join(lines)


def _row(name: str, words: str, rows: list[tuple[float, bool]], goal: float) -> str:
    off = np.array([one for one, _ in rows])
    told = np.isfinite(off)
    size = np.abs(off[told])
    inside = 100 * float(np.mean([held for (_, held), is_told in zip(rows, told, strict=True) if is_told]))
    return (
        f"    {name:13s} {words}: off by {100 * np.median(size):.1f} % in the middle, "
        f"{100 * np.quantile(size, 0.95):.1f} % for 95 of 100, worst {100 * size.max():.0f} %; "
        f"within {100 * goal:.0f} %: {100 * np.mean(size <= goal):.0f} of 100; "
        f"interval holds {inside:.0f} of 100; not told {np.sum(~told)} of {len(off)}"
    )
