"""A build from the side at true size: top, board, crowns' line, bridge, saddle and string, with the neck's angle."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import cos, radians, sin, tan
from typing import Any

from breakangle.documents.true_size.geometry import Curve, Drawing, Figures, Line, Part, Point, Words
from breakangle.documents.true_size.kinds import Option, TemplateKind
from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.physics.neck.gaps import fret_positions_mm

BRIDGE_WIDE_MM, SADDLE_WIDE_MM, BEYOND_MM = 28.0, 3.0, 25.0


@dataclass(frozen=True)
class _Neck:
    """A neck that leans about the joint's top edge, which is the drawing's origin; lengths mm, angle in radians."""

    joint_mm: float
    lean: float

    def point(self, along_mm: float, up_mm: float) -> Point:
        """Return a point `along_mm` from the joint (negative: to the nut) and `up_mm` off the neck's seat."""
        x = along_mm * cos(self.lean) - up_mm * sin(self.lean)
        return x, along_mm * sin(self.lean) + up_mm * cos(self.lean)


def _bridge(saddle_x: float, asked: Mapping[str, Any]) -> list[Part]:
    """Return bridge and saddle."""
    top, left = asked["bridge"], saddle_x - BRIDGE_WIDE_MM / 3.0
    saddle_top, right = top + asked["saddle"], saddle_x + SADDLE_WIDE_MM
    saddle = ((saddle_x, top), (saddle_x, saddle_top), (right, saddle_top), (right, top))
    end = left + BRIDGE_WIDE_MM
    return [
        Curve(((left, 0.0), (left, top), (end, top), (end, 0.0))),
        Curve(saddle),
        Words((saddle_x + BRIDGE_WIDE_MM, top + 2.0), tr("bridge and saddle"), 2.4),
    ]


def _board(neck: _Neck, frets: Sequence[float], asked: Mapping[str, Any]) -> list[Part]:
    """Return the board with its crowns."""
    thick, end, nut = asked["board"], frets[-1] - neck.joint_mm, -neck.joint_mm
    outline = (neck.point(nut, 0.0), neck.point(end, 0.0), neck.point(end, thick), neck.point(nut, thick))
    crowns = [
        Line(
            neck.point(fret - neck.joint_mm, thick), neck.point(fret - neck.joint_mm, thick + asked["crown"])
        )
        for fret in frets[1:]
    ]
    return [Curve(outline, closed=True), *crowns]


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    """Draw with the joint's top edge at the origin; the body lies toward positive x, the neck toward negative."""
    instrument = service.instrument_now()
    frets = [float(one) for one in fret_positions_mm(instrument.scale_mm, instrument.frets)]
    neck = _Neck(frets[instrument.joint_fret], radians(asked["angle"]))
    saddle_x = float(instrument.scale_mm) - neck.joint_mm
    over = asked["board"] + asked["crown"]
    at_saddle, string = over + saddle_x * tan(neck.lean), asked["bridge"] + asked["saddle"]
    parts: list[Part] = [
        Line((0.0, 0.0), (saddle_x + BRIDGE_WIDE_MM + BEYOND_MM, 0.0), "cut"),
        *_board(neck, frets, asked),
        *_bridge(saddle_x, asked),
        Line(neck.point(-neck.joint_mm, over), (saddle_x, at_saddle), "aid"),
        Line(neck.point(-neck.joint_mm, over + asked["floor"]), (saddle_x, string)),
        Words((4.0, -4.5), tr("joint, fret {joint_fret}", joint_fret=instrument.joint_fret), 2.4),
    ]
    rows = (
        (tr("neck angle, degrees"), f"{asked['angle']:.2f}"),
        (tr("crowns' line over the bridge's top, mm"), f"{at_saddle - asked['bridge']:.2f}"),
        (tr("string over the crowns' line at the saddle, mm"), f"{string - at_saddle:.2f}"),
        (tr("joint to saddle, mm"), f"{saddle_x:.2f}"),
    )
    told = (
        tr(
            "Drawn straight, without relief, through the middle; the dashed line is the crowns' line produced."
        ),
        tr("The body's top is the line to the right of the joint; the neck leans back about its top edge."),
    )
    return Drawing(
        tr("Build from the side"), instrument.name, told, tuple(parts), (Figures((tr("of it"), ""), rows),)
    )


KIND = TemplateKind(
    name="build-side",
    words=mark("build from the side"),
    told=mark("top, board, crowns' line, bridge, saddle and string from the side, with the neck's angle"),
    draw=_draw,
    options=(
        Option("angle", mark("angle of the neck, leaning back, degrees"), "ratio", 0.5, 0.0, 8.0),
        Option("bridge", mark("height of the bridge over the top, mm"), "length", 9.5, 0.5, 40.0),
        Option("saddle", mark("height of the saddle over the bridge, mm"), "length", 3.5, 0.2, 15.0),
        Option("board", mark("thickness of the board, mm"), "length", 6.0, 1.0, 20.0),
        Option("crown", mark("height of a crown, mm"), "length", 1.05, 0.3, 3.0),
        Option("floor", mark("height of the nut slot over the crowns' line, mm"), "length", 0.1, 0.0, 3.0),
    ),
)  # fmt: skip
