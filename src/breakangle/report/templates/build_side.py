"""A build from the side at true size: top, board, crowns' line, bridge, saddle and string, with the neck's angle."""

from collections.abc import Mapping
from math import cos, radians, sin, tan
from typing import Any

from breakangle.model.service import Service
from breakangle.physics.gaps import fret_positions_mm
from breakangle.report.geometry import Curve, Drawing, Figures, Line, Part, Words
from breakangle.report.kinds import Option, TemplateKind

BRIDGE_WIDE_MM, SADDLE_WIDE_MM, BEYOND_MM, TICK_MM = 28.0, 3.0, 25.0, 3.0


def _draw(service: Service, asked: Mapping[str, Any]) -> Drawing:
    """Draw with the joint's top edge at the origin; the body lies toward positive x, the neck toward negative."""
    instrument = service.instrument_now()
    frets = fret_positions_mm(instrument.scale_mm, instrument.frets)
    joint = float(frets[instrument.joint_fret])
    saddle_x = float(instrument.scale_mm) - joint
    lean = radians(asked["angle"])
    thick, crown = asked["board"], asked["crown"]

    def on_neck(along: float, up: float) -> tuple[float, float]:
        """Return a point of the leaning neck: `along` from the joint (negative: to the nut), `up` off its seat."""
        return along * cos(lean) - up * sin(lean), along * sin(lean) + up * cos(lean)

    end = float(frets[-1]) - joint
    board = (on_neck(-joint, 0.0), on_neck(end, 0.0), on_neck(end, thick), on_neck(-joint, thick))
    top = asked["bridge"]
    saddle_top = top + asked["saddle"]
    line = (on_neck(-joint, thick + crown), (saddle_x, thick + crown + saddle_x * tan(lean)))
    left = saddle_x - BRIDGE_WIDE_MM / 3.0
    parts: list[Part] = [
        Line((0.0, 0.0), (saddle_x + BRIDGE_WIDE_MM + BEYOND_MM, 0.0), "cut"),
        Curve(board, closed=True),
        Curve(((left, 0.0), (left, top), (left + BRIDGE_WIDE_MM, top), (left + BRIDGE_WIDE_MM, 0.0))),
        Curve(
            (
                (saddle_x, top), (saddle_x, saddle_top), (saddle_x + SADDLE_WIDE_MM, saddle_top),
                (saddle_x + SADDLE_WIDE_MM, top),
            )
        ),
        Line(*line, "aid"),
        Line(on_neck(-joint, thick + crown + asked["floor"]), (saddle_x, saddle_top)),
        Words((saddle_x + BRIDGE_WIDE_MM, top + 2.0), "bridge and saddle", 2.4),
        Words((4.0, -4.5), f"joint, fret {instrument.joint_fret}", 2.4),
    ]  # fmt: skip
    for fret in range(1, instrument.frets + 1):
        along = float(frets[fret]) - joint
        parts.append(Line(on_neck(along, thick), on_neck(along, thick + crown)))
    airspace = line[1][1] - top
    rows = (
        ("neck angle, degrees", f"{asked['angle']:.2f}"),
        ("crowns' line over the bridge's top, mm", f"{airspace:.2f}"),
        ("string over the crowns' line at the saddle, mm", f"{saddle_top - line[1][1]:.2f}"),
        ("joint to saddle, mm", f"{saddle_x:.2f}"),
    )
    told = (
        "Drawn straight, without relief, through the middle; the dashed line is the crowns' line produced.",
        "The body's top is the line to the right of the joint; the neck leans back about its top edge.",
    )
    return Drawing(
        "Build from the side", instrument.name, told, tuple(parts), (Figures(("of it", ""), rows),)
    )


KIND = TemplateKind(
    name="build-side",
    words="build from the side",
    told="top, board, crowns' line, bridge, saddle and string from the side, with the neck's angle",
    draw=_draw,
    options=(
        Option("angle", "of the neck, leaning back, degrees", "ratio", 0.5, 0.0, 8.0),
        Option("bridge", "height of the bridge over the top, mm", "length", 9.5, 0.5, 40.0),
        Option("saddle", "of the saddle over the bridge, mm", "length", 3.5, 0.2, 15.0),
        Option("board", "thickness of the board, mm", "length", 6.0, 1.0, 20.0),
        Option("crown", "height of a crown, mm", "length", 1.05, 0.3, 3.0),
        Option("floor", "of the nut slot over the crowns' line, mm", "length", 0.1, 0.0, 3.0),
    ),
)  # fmt: skip
