"""Bridge placement: the saddle's ends from the 12th fret, straight and crossed, so that it stands true and square."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from breakangle.documents.true_size.compensation import Compensation, compensation_of
from breakangle.documents.true_size.kinds import Option
from breakangle.documents.true_size.wanted import board_for
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.making.bridge_place import corner_distances_mm
from breakangle.planning.state.board import Board
from breakangle.reference.families import Family
from breakangle.services.making.kinds import Job, MakingSheet, Paper, mm

NAMES = (
    mark("bass end of fret 12 to the bass end of the saddle line"),
    mark("treble end of fret 12 to the treble end of the saddle line"),
    mark("bass end of fret 12 to the treble end of the saddle line"),
    mark("treble end of fret 12 to the bass end of the saddle line"),
)


def _has_fixed_bridge(family: Family) -> bool:
    """Return whether a kind's bridge is held by glue or screws: one that stands loose is slid, not placed."""
    return not family.bridge.stands_loose


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
    facts.append((tr("outer strings inside the marks at fret 12"), mm((at_12 - inner) / 2.0)))
    return MakingSheet(
        title=tr("Bridge placement"),
        lead=tr(
            "The saddle line's ends lie {mm} and {mm_2} from fret 12's, bass and treble, under "
            "the outer strings' places.",
            mm=mm(told[0]),
            mm_2=mm(told[1]),
        ),
        facts=tuple(facts),
        rests_on=(
            tr(
                "Scale {scale_mm:g} mm, halved by fret 12; setback {mm} bass, {mm_2} treble, ± {mm_3}.",
                scale_mm=instrument.scale_mm,
                mm=mm(bass),
                mm_2=mm(treble),
                mm_3=mm(float(np.max(back.spread_mm))),
            ),
            tr("Both outer strings must lie as far inside the board's edges: sight along them before glue."),
            tr("All four distances must agree: two alone let the bridge lean."),
        ),
        dangers=("wood-dust", "heat-steam"),
        figures={"distances_mm": [round(one, 3) for one in told]},
        papers=(Paper("saddle-line", {}),),
    )


JOB = Job(
    name="bridge",
    words=mark("bridge placement"),
    told=mark("where a fixed bridge goes: the saddle line's ends from the 12th fret, straight and crossed"),
    reckon=_reckon,
    findings=("moved-bridge",),
    usual_on=_has_fixed_bridge,
    options=(
        Option("width_at_12", mark("between the marks measured from at fret 12, mm (0: the outer strings' places)"),
               "length", 0.0, 0.0, 120.0),
    ),
)  # fmt: skip
