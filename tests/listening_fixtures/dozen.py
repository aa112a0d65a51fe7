"""Nine plucks of the example's string 4, three light, three medium, three heavy, at known displacements.

The glide follows from the displacement: df/f = EA h²/(8 T L² p (1 − p)) (Legge and Fletcher 1984, J. Acoust. Soc. Am.
76, 5), and falls with the energy of all partials.
"""

import numpy as np
from numpy.typing import NDArray

from breakangle.planning.state.board import board_of
from breakangle.services.service_files.example import example_service
from listening_fixtures.plucks import CENTS, Pluck, render

WHOLE_MM = (0.9, 1.7, 2.6)
POINT, STRING, RATE_HZ = 0.14, 4, 22_050


def dozen() -> NDArray[np.float64]:
    """Samples of the nine plucks, one after the other."""
    board, at = board_of(example_service().instrument, 440.0), STRING - 1
    hz, length, axial = float(board.hz[at]), float(board.open_length_mm[at]), float(board.axial_ratio[at])
    parts = [1e-5 * np.random.default_rng(0).standard_normal(RATE_HZ // 2)]
    for number, height in enumerate(np.repeat(WHOLE_MM, 3)):
        glide = CENTS * axial * height**2 / (8 * length**2 * POINT * (1 - POINT))
        one = Pluck(
            hz, glide_cents=glide, energy_law=True, pluck_ratio=POINT, body=False, rate_hz=RATE_HZ, duration_s=1.6,
            noise_db=50.0,
        )  # fmt: skip
        sound = render(one, number)
        sound[-800:] *= np.linspace(1, 0, 800)
        parts += [sound, 1e-5 * np.random.default_rng(number).standard_normal(8_000)]
    return np.concatenate(parts)
