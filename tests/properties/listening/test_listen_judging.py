"""Each bound of judging a take, from both sides, on evidence made for that bound alone."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from breakangle.listening.pitch.measure import START_S
from breakangle.listening.takes.evidence import LEVEL_HOP_S
from breakangle.listening.takes.judge import harmonic_share, not_a_string, second_pluck

RATE_HZ = 8000


def _evidence(share: float = 1.0, level: Any = None) -> Any:
    """Return what a steady string of power 1/2 leaves, where its model explains `share` of the power heard.

    `level` is the power of its partials every 50 ms.
    """
    level = np.ones(12) if level is None else level
    heard = np.cos(2 * np.pi * 100 * np.arange(RATE_HZ) / RATE_HZ) / np.sqrt(share)
    bands = SimpleNamespace(values=np.ones((1, 50), dtype=complex), order=np.array([1]))
    time_s = START_S + (np.arange(len(level)) + 0.5) * LEVEL_HOP_S
    pitch = SimpleNamespace(
        bands=bands,
        without_hum=SimpleNamespace(values=np.sqrt(level)[None].astype(complex), time_s=time_s),
        coarse=SimpleNamespace(periodic_ratio=1.0),
        law=SimpleNamespace(scatter_cents=0.0),
    )
    return SimpleNamespace(pitch=pitch, spectrum=None, samples=heard, level=level)


def test_the_share_is_the_models_power_over_the_power_heard():
    """A band of amplitude 1 holds the power 1/2 of a cosine (derived)."""
    assert harmonic_share(_evidence(0.4)) == pytest.approx(0.4)
    assert harmonic_share(_evidence(2.0)) == 1.0


@pytest.mark.parametrize(
    ("share", "verdict"), [(0.29, True), (0.31, False), (0.59, False), (0.61, None), (1.0, None)]
)
def test_what_the_string_does_not_explain_is_doubted_then_refused(share: float, verdict: bool | None):
    found = not_a_string(_evidence(share))
    assert (None if found is None else found.refuses) is verdict


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("size", "verdict"), [("none", None), ("some", False), ("much", True)])
def test_a_note_damped_or_plucked_again_is_doubted_then_refused(sign: int, size: str, verdict: bool | None):
    """A hand on the string takes a level away within one hop; a second pluck raises it over three."""
    step = {
        (1, "none"): 0.5,
        (1, "some"): 1.0,
        (1, "much"): 1.6,
        (-1, "none"): 1.1,
        (-1, "some"): 1.5,
        (-1, "much"): 2.8,
    }
    level = np.exp(np.where(np.arange(16) < 8, 0.0, sign * step[sign, size]))
    found = second_pluck(_evidence(level=level))
    assert (None if found is None else found.refuses) is verdict


def test_a_note_that_ends_with_the_take_is_not_called_damped():
    level = np.where(np.arange(16) < 15, 1.0, 1e-3)
    assert second_pluck(_evidence(level=level)) is None
