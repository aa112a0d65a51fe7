"""Peers that listening is measured against, each given the pitch to within a third of an octave."""

import warnings
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Peer = Callable[[FloatArray, int, float], float]


def fft_peak(samples: FloatArray, rate_hz: int, near_hz: float) -> float:
    """Hann window, whole piece, parabola through the log peak nearest to the known partial 1."""
    size = 8 << int(np.ceil(np.log2(len(samples))))
    log = np.log(np.abs(np.fft.rfft(samples * np.hanning(len(samples)), size)) + 1e-15)
    step = rate_hz / size
    low, high = int((near_hz * 0.985) / step), int(near_hz * 1.015 / step) + 2
    at = low + int(np.argmax(log[low:high]))
    a, b, c = log[at - 1 : at + 2]
    return float((at + 0.5 * (a - c) / (a - 2 * b + c)) * step)


def yin(samples: FloatArray, rate_hz: int, near_hz: float) -> float:
    """librosa's YIN, median of frames of eight periods."""
    import librosa

    frame = 1 << int(np.ceil(np.log2(8 * rate_hz / near_hz)))
    found = librosa.yin(samples, fmin=near_hz * 0.8, fmax=near_hz * 1.25, sr=rate_hz, frame_length=frame)
    return float(np.median(found))


def pyin(samples: FloatArray, rate_hz: int, near_hz: float) -> float:
    """librosa's pYIN, median of voiced frames of eight periods."""
    import librosa

    frame = 1 << int(np.ceil(np.log2(8 * rate_hz / near_hz)))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found, _, _ = librosa.pyin(
            samples,
            fmin=near_hz * 0.5071,
            fmax=near_hz * 2.0,
            sr=rate_hz,
            frame_length=frame,
            hop_length=frame // 4,
            max_transition_rate=10.0,
        )
    found = found[np.isfinite(found)]
    return float(np.median(found)) if len(found) else float("nan")


def praat(samples: FloatArray, rate_hz: int, near_hz: float) -> float:
    """Praat's autocorrelation, median of frames."""
    import parselmouth

    track = parselmouth.Sound(samples, rate_hz).to_pitch_ac(
        time_step=0.01, pitch_floor=max(20.0, near_hz * 0.75), pitch_ceiling=near_hz * 1.35
    )
    found = track.selected_array["frequency"]
    found = found[found > 0]
    return float(np.median(found)) if len(found) else float("nan")


def world(samples: FloatArray, rate_hz: int, near_hz: float) -> float:
    """WORLD: DIO refined by StoneMask, median of frames."""
    import pyworld

    found, times = pyworld.dio(
        samples, rate_hz, f0_floor=max(25.0, near_hz * 0.75), f0_ceil=near_hz * 1.35, frame_period=10.0
    )
    found = pyworld.stonemask(samples, found, times, rate_hz)
    found = found[found > 0]
    return float(np.median(found)) if len(found) else float("nan")


def peers() -> dict[str, Peer]:
    """All peers by the name the tables use."""
    return {"FFT peak": fft_peak, "praat": praat, "WORLD": world, "YIN": yin, "pYIN": pyin}


def cents(hz: float, true_hz: float) -> float:
    """How far off, in cents."""
    return 1200 * float(np.log2(hz / true_hz)) if hz > 0 else float("nan")


def row(name: str, errors: FloatArray | list[float]) -> str:
    """One line of a table: median, 95 %, worst, and how often there was no answer."""
    values = np.abs(np.asarray(errors, dtype=float))
    known = values[np.isfinite(values)]
    none = len(values) - len(known)
    if len(known) == 0:
        return f"    {name:10s} no answer"
    middle, high, worst = np.median(known), np.percentile(known, 95), known.max()
    return f"    {name:10s} median {middle:8.4f}  95 % {high:8.4f}  worst {worst:8.4f}" + (
        f"  no answer {none}" if none else ""
    )
