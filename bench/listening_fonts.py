"""Half-second scatter on recorded plucks not used before, nothing known of the note, against peers in the same run.

Notes of two sound fonts of Debian: `musescore-general-soundfont-lossless` (what it does not share with the other), and
those of `fluid-soundfont-gm` that nothing here was ever set on. A note's true pitch is unknown; what is measured is how
well half-second pieces of it agree, each method's own best exponential of 0.5 s taken out (`listening_recorded`). Ours
is given nothing but the samples; peers are given the pitch to a third of an octave. A second row is ours with f0 and B
of the whole note, as the program has them: what is left between the two is what half a second cannot tell of B.
"""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from bench.listening_peers import cents, fft_peak, praat, pyin
from bench.listening_recorded import FIRST_S, PIECE_S, known, piece, settled_scatter
from breakangle.listening.pitch.measure import START_S, measure
from listening_fixtures.recorded import FAMILIES, Sample, all_samples, sample

FloatArray = NDArray[np.float64]
FLUID = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
GENERAL = Path("/usr/share/sounds/sf2/MuseScore_General_Full.sf2")
PLUCKED = {
    "guitars": ("guitar", "gtr", "nylon", "steel", "strat", "jazz", "clean"),
    "basses": ("bass", "fretless"),
    "banjo, ukulele, mandolin": ("banjo", "ukul", "mando"),
    "other plucked": ("harpsi", "dulci", "pizz", "koto", "sitar", "shami", "harp"),
}
NOT_PLUCKED = (
    "drum", "noise", "mute", "dist", "overdr", "sax", "synth", "bassoon", "horn", "pad", "slide", "harmonica",
    "basses_", "bassatk", "basstrm", "808", "hit",
)  # fmt: skip
MOST_OF_EACH, PEER_OF, SHORTEST_S = 24, 2, 2.05
OURS_KNOWN = "ours, B known"
METHODS = ("ours", OURS_KNOWN, "FFT peak", "pYIN", "harvest, StoneMask", "Praat")


def harvest(samples: FloatArray, rate_hz: int, near_hz: float) -> float:
    """WORLD: Harvest refined by StoneMask, median of frames."""
    import pyworld

    found, times = pyworld.harvest(
        samples, rate_hz, f0_floor=max(25.0, near_hz * 0.75), f0_ceil=near_hz * 1.35, frame_period=10.0
    )
    found = pyworld.stonemask(samples, found, times, rate_hz)
    found = found[found > 0]
    return float(np.median(found)) if len(found) else float("nan")


def notes_of(path: Path) -> dict[str, list[Sample]]:
    """Plucked notes of a font by kind, from their pluck on: long enough, and of no family that was used before."""
    fluid = set(all_samples(FLUID))
    all_samples.cache_clear()
    found: dict[str, list[Sample]] = {kind: [] for kind in PLUCKED}
    for name, (start, end, rate, _) in sorted(all_samples(path).items()):
        low = name.lower()
        used = name in fluid and name.split()[:1] and name.split()[0] in FAMILIES
        if (
            used
            or (end - start) / rate < SHORTEST_S
            or any(word in low for word in NOT_PLUCKED)
            or "(R)" in name
        ):
            continue
        kind = next((kind for kind, words in PLUCKED.items() if any(word in low for word in words)), None)
        if kind is None:
            continue
        note = sample(path, name)
        power = np.convolve(note.samples**2, np.ones(rate // 100) / (rate // 100), "same")
        at = int(np.argmax(power > 0.1 * power.max()))
        found[kind].append(Sample(name, note.key, rate, note.samples[at:]))
    return {kind: notes[:: max(1, len(notes) // MOST_OF_EACH)] for kind, notes in found.items() if notes}


def scatters(note: Sample, peers_too: bool) -> dict[str, float] | None:
    """Scatter of half-second pieces by each method in cents; None where the note cannot be cut into three."""
    rate, loud = note.rate_hz, float(np.mean(note.samples[: note.rate_hz // 10] ** 2))
    parts = []
    for k in range(6):
        part = piece(note.samples, rate, FIRST_S + k * PIECE_S, PIECE_S)
        if len(part) < round(PIECE_S * rate) or np.mean(part**2) < 1e-4 * loud:
            break
        parts.append(part)
    whole = measure(piece(note.samples, rate, START_S, 2.0), rate, START_S)
    if len(parts) < 3 or whole is None:
        return None
    near = whole.law.partial_one_hz
    values = {
        name: [
            cents(one.law.partial_one_hz, near)
            if (one := measure(part, rate, FIRST_S, told, settle=False))
            else np.nan
            for part in parts
        ]
        for name, told in (("ours", None), (OURS_KNOWN, known(whole)))
    }
    for name, peer in (("FFT peak", fft_peak), ("harvest, StoneMask", harvest), ("Praat", praat)):
        values[name] = [cents(peer(part, rate, near), near) for part in parts]
    values["pYIN"] = [cents(pyin(part, rate, near), near) for part in parts] if peers_too else [np.nan] * 3
    return {name: settled_scatter(np.array(rows)) for name, rows in values.items()}


def report(quick: bool = False) -> str:
    """Median and 90 % of the scatter by font, kind and method."""
    lines = ["half-second scatter with nothing known, cents, median / 90 %"]
    for path in (GENERAL, FLUID):
        if not path.exists():
            lines.append(f"  NOT MEASURED: {path.name} is missing")
            continue
        for kind, notes in notes_of(path).items():
            rows = [
                scatters(note, at % PEER_OF == 0) for at, note in enumerate(notes[: 4 if quick else None])
            ]
            told = [row for row in rows if row is not None]
            if not told:
                continue
            lines.append(f"  {path.name}, {kind}, {len(told)} notes")
            for name in METHODS:
                values = np.array([row[name] for row in told])
                values = values[np.isfinite(values)]
                if len(values):
                    high = np.percentile(values, 90)
                    lines.append(f"    {name:20s} {np.median(values):7.3f} / {high:7.3f}  of {len(values)}")
    return "\n".join(lines)
