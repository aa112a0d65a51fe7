"""A drawing as DXF in mm, a layer for each role, for a cutter or a drawing program."""

from io import StringIO
from typing import TYPE_CHECKING

from breakangle.documents.true_size.geometry import Arc, Circle, Curve, Drawing, Line, Part, Words

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

VERSION = "R2010"
WORDS_LAYER = "words"
LAYERS = {
    "mark": 7,
    "cut": 1,
    "aid": 8,
    WORDS_LAYER: 3,
}  # numbers are DXF's own colours: black, red, grey, green
LEFT, MIDDLE, RIGHT = 0, 1, 2  # DXF's group 72


def template_dxf(drawing: Drawing) -> bytes:
    """Return the drawing as a DXF file (R2010, UTF-8) whose unit is the millimetre."""
    from ezdxf import units
    from ezdxf.filemanagement import new

    document = new(VERSION, setup=["linetypes"], units=units.MM)
    for name, colour in LAYERS.items():
        layer = document.layers.add(name, color=colour)
        if name == "aid":
            layer.dxf.linetype = "DASHED"
    space = document.modelspace()
    for part in drawing.parts:
        _put(space, part)
    out = StringIO()
    document.write(out)
    return out.getvalue().encode(document.output_encoding, "dxfreplace")


def _put(space: "Modelspace", part: Part) -> None:
    if isinstance(part, Words):
        side = {"left": LEFT, "middle": MIDDLE, "right": RIGHT}[part.side]
        turn = 90.0 if part.turned else 0.0
        place = {"insert": part.at_mm, "halign": side, "align_point": part.at_mm, "rotation": turn}
        words = " ".join(part.text.split())
        space.add_text(words, height=0.7 * part.size_mm, dxfattribs={"layer": WORDS_LAYER, **place})
        return
    layer = {"layer": part.role}
    if isinstance(part, Line):
        space.add_line(part.start_mm, part.end_mm, dxfattribs=layer)
    elif isinstance(part, Circle):
        space.add_circle(part.centre_mm, part.radius_mm, dxfattribs=layer)
    elif isinstance(part, Arc):
        space.add_arc(part.centre_mm, part.radius_mm, part.start_degrees, part.end_degrees, dxfattribs=layer)
    else:
        assert isinstance(part, Curve)
        space.add_lwpolyline(part.points_mm, close=part.closed, dxfattribs=layer)
