"""Pictures that go on paper: QR codes, a logo or photograph wrapped as SVG, and SVG as an address inside a page."""

import base64
from collections.abc import Sequence
from io import BytesIO

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.small_picture import small_picture
from breakangle.model.words.speech import tr

LARGEST_LOGO_BYTES = 300_000
LARGEST_SIDE_PIXELS, PRINTED_SIDE_PIXELS = 4000, 900  # read, and kept: 900 over 40 mm is 570 to the inch
Strokes = Sequence[Sequence[tuple[float, float]]]
FORMATS = ("PNG", "JPEG", "GIF", "WEBP")
QUIET_MODULES = 4  # white around a QR code; ISO/IEC 18004


def data_address(svg: str) -> str:
    """Return an SVG picture as an address that holds it whole. Shown as an image, nothing in it can run."""
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode("ascii")


def qr_svg(content: str, quiet: int = QUIET_MODULES) -> str:
    """Return a QR code (medium error correction or better) as SVG, black on white, with its quiet zone.

    Raises:
        ChooseAnotherFileError: more than a code can hold.
    """
    import segno

    try:
        code = segno.make_qr(content, error="m", boost_error=True)
    except segno.DataOverflowError as cause:
        raise ChooseAnotherFileError(
            tr("a code cannot hold {content_count} signs", content_count=len(content)),
            tr("some 2,000 at most"),
            "",
        ) from cause
    out = BytesIO()
    code.save(
        out, kind="svg", border=quiet, dark="#000", light="#fff", xmldecl=False, svgclass=None, lineclass=None
    )
    return out.getvalue().decode("utf-8")


def picture_svg(content: bytes, name: str) -> str:
    """Return a photograph or logo as SVG text, drawn anew as pixels: nothing of the file but its picture goes on.

    Raises:
        ChooseAnotherFileError: no picture, or too large.
    """
    if len(content) > LARGEST_LOGO_BYTES:
        raise ChooseAnotherFileError(
            tr("{name} is {content_count:.0f} kB", name=name, content_count=len(content) / 1000),
            tr("{largest_logo_bytes:.0f} kB at most", largest_logo_bytes=LARGEST_LOGO_BYTES / 1000),
            tr("make it smaller"),
        )
    from PIL import Image

    out = BytesIO()
    try:
        with Image.open(BytesIO(content), formats=FORMATS) as image:
            if max(image.size) > LARGEST_SIDE_PIXELS:
                raise ChooseAnotherFileError(
                    tr(
                        "{name} has {width} by {height} pixels",
                        name=name,
                        width=image.width,
                        height=image.height,
                    ),
                    tr("{largest_side_pixels} a side at most", largest_side_pixels=LARGEST_SIDE_PIXELS),
                    tr("make it smaller"),
                )
            drawn = image.convert("RGBA")
            drawn.thumbnail((PRINTED_SIDE_PIXELS, PRINTED_SIDE_PIXELS))
            drawn.save(out, "PNG", optimize=True)
    except ChooseAnotherFileError:
        raise
    except Exception as cause:  # what else the reader of a format raises is for the format to know
        raise ChooseAnotherFileError(
            tr("{name} is no picture that can be printed", name=name),
            tr("PNG, JPEG, GIF or WebP"),
            tr("choose another"),
        ) from cause
    (wide, tall), coded = drawn.size, base64.b64encode(out.getvalue()).decode("ascii")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{tall}" viewBox="0 0 {wide} {tall}">'
        f'<image width="{wide}" height="{tall}" href="data:image/png;base64,{coded}"/></svg>'
    )


MARK_SHARE = 0.008  # of the longer side: how wide a mark is drawn


def photograph_svg(content: bytes, strokes: Strokes = ()) -> str:
    """Return a photograph as SVG text: upright, small enough for paper, what a finger marked drawn over it.

    `strokes` are lines of points, each as shares of width and height from the upper left.

    Raises:
        ChooseAnotherFileError: no picture that can be printed.
    """
    out = BytesIO()
    try:
        drawn = small_picture(content, PRINTED_SIDE_PIXELS)
    except ChooseAnotherFileError as cause:
        given = tr("this photograph cannot be printed")
        raise ChooseAnotherFileError(given, tr("PNG, JPEG, GIF or WebP"), tr("choose another")) from cause
    drawn.save(out, "JPEG", quality=82)
    (wide, tall), coded = drawn.size, base64.b64encode(out.getvalue()).decode("ascii")
    lines = "".join(_mark(stroke, wide, tall) for stroke in strokes)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{tall}" viewBox="0 0 {wide} {tall}">'
        f'<image width="{wide}" height="{tall}" href="data:image/jpeg;base64,{coded}"/>{lines}</svg>'
    )


def _mark(stroke: Sequence[tuple[float, float]], wide: int, tall: int) -> str:
    """Return one line that a finger drew: black with a white rim, so that it shows on any wood."""
    points = " ".join(f"{x * wide:.1f},{y * tall:.1f}" for x, y in stroke)
    width = MARK_SHARE * max(wide, tall)
    shape = 'fill="none" stroke-linecap="round" stroke-linejoin="round"'
    return "".join(
        f'<polyline points="{points}" {shape} stroke="{colour}" stroke-width="{size * width:.1f}"/>'
        for colour, size in (("#fff", 2.0), ("#000", 1.0))
    )
