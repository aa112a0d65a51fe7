"""Bridge placement: the saddle's ends from the 12th fret, straight and crossed, so that it stands true and square."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from breakangle.desk.making.kinds import Job, MakingSheet, mm
from breakangle.desk.making.wanted import board_for
from breakangle.model.service import Service
from breakangle.physics.making.bridge_place import corner_distances_mm
from breakangle.report.compensation import compensation_of
from breakangle.report.kinds import Option


def _reckon(service: Service, asked: Mapping[str, Any]) -> MakingSheet:
    board = board_for(service)
    instrument = board.instrument
    back = compensation_of(service)
    low, high = np.polyfit(board.sideways_mm[:, -1], back.plain_saddle_mm, 1) if board.string_count > 1 else (
        0.0, float(back.plain_saddle_mm[0])
    )  # fmt: skip
    half = instrument.spread_bridge_mm / 2.0
    bass, treble = high - low * half, high + low * half
    inner = instrument.spread_nut_mm + (instrument.spread_bridge_mm - instrument.spread_nut_mm) / 2.0
    at_12 = asked["width_at_12"] or inner
    told = [
        float(one)
        for one in corner_distances_mm(
            scale_mm=instrument.scale_mm, setback_bass_mm=bass, setback_treble_mm=treble, width_at_12_mm=at_12,
            width_at_saddle_mm=instrument.spread_bridge_mm,
        )
    ]  # fmt: skip
    names = (
        "bass end of fret 12 to the bass end of the saddle line",
        "treble end of fret 12 to the treble end of the saddle line",
        "bass end of fret 12 to the treble end of the saddle line",
        "treble end of fret 12 to the bass end of the saddle line",
    )
    board_edge = (at_12 - inner) / 2.0
    return MakingSheet(
        title="Bridge placement",
        lead=f"The saddle line's ends lie {mm(told[0])} and {mm(told[1])} from fret 12's, bass and treble, under the "
        "outer strings' places.",
        facts=(
            *zip(names, map(mm, told), strict=True),
            ("outer strings inside the marks at fret 12", mm(board_edge)),
        ),
        rests_on=(
            f"Scale {instrument.scale_mm:g} mm, halved by fret 12; setback {mm(bass)} bass, {mm(treble)} treble, "
            f" ± {mm(float(np.max(back.spread_mm)))}.",
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
