"""A drawing as SVG at true size: width and height in mm, one user unit a millimetre, y down as SVG has it."""

from xml.sax.saxutils import escape, quoteattr

from breakangle.documents.true_size.geometry import Arc, Circle, Curve, Drawing, Line, Part, Point, Words

MARGIN_MM = 5.0
STYLE = (
    "path,circle{fill:none;stroke:#000;stroke-width:.13}.cut{stroke-width:.25}"
    ".aid{stroke:#777;stroke-width:.1;stroke-dasharray:2 1}text{font-family:sans-serif;fill:#222}"
)
ANCHOR = {"left": "start", "middle": "middle", "right": "end"}


def number(value: float) -> str:
    """Return a length in mm with nine decimals at most, so that nothing is lost that a machine could cut."""
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def template_svg(drawing: Drawing) -> str:
    """Return the drawing as an SVG document that opens, prints and cuts at true size."""
    left, low, right, high = drawing.bounds_mm
    wide, tall = right - left + 2.0 * MARGIN_MM, high - low + 2.0 * MARGIN_MM
    view = " ".join(number(one) for one in (left - MARGIN_MM, -high - MARGIN_MM, wide, tall))
    title = f"{drawing.title}: {drawing.subject}"
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(wide)}mm" height="{number(tall)}mm" '
        f'viewBox="{view}" role="img">',
        f"<title>{_text(title)}</title><desc>{_text(' '.join(drawing.told))}</desc><style>{STYLE}</style>",
        *(_element(part) for part in drawing.parts),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _text(text: str) -> str:
    """Return text as XML allows it: signs that no XML may hold are left out."""
    return escape(
        "".join(sign for sign in text if sign in "\t\n" or " " <= sign < "\ufffe" or sign > "\uffff")
    )


def _at(point: Point) -> str:
    return f"{number(point[0])} {number(-point[1])}"


def _element(part: Part) -> str:
    if isinstance(part, Words):
        x, y = number(part.at_mm[0]), number(-part.at_mm[1])
        turn = f' transform="rotate(-90 {x} {y})"' if part.turned else ""
        anchor = ANCHOR[part.side]
        place = f'x="{x}" y="{y}" font-size="{number(part.size_mm)}" text-anchor="{anchor}"{turn}'
        return f"<text {place}>{_text(part.text)}</text>"
    role = quoteattr(part.role)
    if isinstance(part, Circle):
        across, up = part.centre_mm
        return f'<circle class={role} cx="{number(across)}" cy="{number(-up)}" r="{number(part.radius_mm)}"/>'
    return f'<path class={role} d="{_path(part)}"/>'


def _path(part: Line | Arc | Curve) -> str:
    if isinstance(part, Line):
        return f"M{_at(part.start_mm)}L{_at(part.end_mm)}"
    if isinstance(part, Curve):
        return "M" + "L".join(_at(one) for one in part.points_mm) + ("Z" if part.closed else "")
    radius, large = number(part.radius_mm), int(part.end_degrees - part.start_degrees > 180.0)
    start, end = part.at_mm(part.start_degrees), part.at_mm(part.end_degrees)
    return f"M{_at(start)}A{radius} {radius} 0 {large} 0 {_at(end)}"
