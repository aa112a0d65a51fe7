"""Bridge placement: the saddle's ends from the 12th fret, straight and crossed, so that it stands true and square."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from breakangle.documents.true_size.compensation import Compensation, compensation_of
from breakangle.documents.true_size.kinds import Option
from breakangle.model.service import Service
from breakangle.physics.making.bridge_place import corner_distances_mm
from breakangle.planning.state.board import Board
from breakangle.services.making.kinds import Job, MakingSheet, mm
from breakangle.services.making.wanted import board_for

NAMES = (
    "bass end of fret 12 to the bass end of the saddle line",
    "treble end of fret 12 to the treble end of the saddle line",
    "bass end of fret 12 to the treble end of the saddle line",
    "treble end of fret 12 to the bass end of the saddle line",
)


def _setbacks_mm(board: Board, back: Compensation) -> tuple[float, float]:
    """Return how far the straight saddle nearest all crown points is set back under the outer strings, bass, treble."""
    if board.string_count < 2:
        return float(back.plain_saddle_mm[0]), float(back.plain_saddle_mm[0])
    lean, middle = np.polyfit(board.sideways_mm[:, -1], back.plain_saddle_mm, 1)
    half = board.instrument.spread_bridge_mm / 2.0
    return float(middle - lean * half), float(middle + lean * half)


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    board, back = board_for(service), compensation_of(service)
    instrument = board.instrument
    bass, treble = _setbacks_mm(board, back)
    inner = (instrument.spread_nut_mm + instrument.spread_bridge_mm) / 2.0
    at_12 = asked["width_at_12"] or inner
    corners = corner_distances_mm(
        scale_mm=instrument.scale_mm, setback_bass_mm=bass, setback_treble_mm=treble, width_at_12_mm=at_12,
        width_at_saddle_mm=instrument.spread_bridge_mm,
    )  # fmt: skip
    told = [float(one) for one in corners]
    facts = [*zip(NAMES, map(mm, told), strict=True)]
    facts.append(("outer strings inside the marks at fret 12", mm((at_12 - inner) / 2.0)))
    return MakingSheet(
        title="Bridge placement",
        lead=f"The saddle line's ends lie {mm(told[0])} and {mm(told[1])} from fret 12's, bass and treble, under the "
        "outer strings' places.",
        facts=tuple(facts),
        rests_on=(
            f"Scale {instrument.scale_mm:g} mm, halved by fret 12; setback {mm(bass)} bass, {mm(treble)} treble, "
            f"± {mm(float(np.max(back.spread_mm)))}.",
            "Both outer strings must lie as far inside the board's edges: sight along them before glue.",
            "All four distances must agree: two alone let the bridge lean.",
        ),
        dangers=("wood-dust",),
        figures={"distances_mm": [round(one, 3) for one in told]},
    )


JOB = Job(
    name="bridge",
    words="bridge placement",
    told="where a fixed bridge goes: the saddle line's ends from the 12th fret, straight and crossed",
    reckon=_reckon,
    options=(
        Option("width_at_12", "between the marks measured from at fret 12, mm (0: the outer strings' places)",
               "length", 0.0, 0.0, 120.0),
    ),
)  # fmt: skip
