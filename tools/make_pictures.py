"""Draw the README's picture from a real run: `python tools/make_pictures.py` writes docs/picture-plan.svg."""

import html
import io
import re
from pathlib import Path

from rich.terminal_theme import TerminalTheme

from breakangle.cli.render.page import console_for
from breakangle.cli.render.pages.plan import print_plan
from breakangle.cli.render.units import Units
from breakangle.services.service_files.example import example_service
from breakangle.services.service_files.service import plan_service

TARGET = Path(__file__).parents[1] / "docs" / "picture-plan.svg"
WIDTH_SIGNS, SHOWN_STEPS = 82, 4
SIGN_WIDTH, LINE_HEIGHT = 12.0, 24.4
GREYS = [
    (38, 38, 34),
    (168, 42, 30),
    (40, 110, 60),
    (132, 88, 0),
    (40, 80, 140),
    (120, 50, 110),
    (0, 105, 110),
]
PAPER = TerminalTheme((250, 249, 245), (38, 38, 34), [*GREYS, (90, 90, 85)])
FORM = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} HEIGHT" role="img">
<title>The plan that breakangle printed for the example instrument</title>
<style>
text {{ font-family: "DejaVu Sans Mono", Menlo, Consolas, monospace; font-size: {char_height}px; }}
{styles}
</style>
<rect x="0.5" y="0.5" width="99.8%" height="99.8%" fill="#faf9f5" stroke="#c9c6ba" rx="6"/>
<g transform="translate(12, 12)">
{matrix}
</g>
</svg>
"""
PIECE = re.compile(
    r'<text class="(?P<style>[\w-]+)" x="(?P<x>[\d.]+)" y="(?P<y>[\d.]+)" textLength="[\d.]+"[^>]*>'
    r"(?P<words>[^<]*)</text>"
)
BLANK = "&#160;"


def _piece(found: re.Match[str], first_y: float, last_y: float) -> str:
    """Return one run of text without the blanks around it, which viewers treat differently."""
    words = found["words"].strip()
    x_of = float(found["x"])
    while words.startswith(BLANK):
        words, x_of = words.removeprefix(BLANK), x_of + SIGN_WIDTH
    while words.endswith(BLANK):
        words = words.removesuffix(BLANK)
    if not words or not first_y <= float(found["y"]) <= last_y:
        return ""
    length = SIGN_WIDTH * len(html.unescape(words))
    place = f'x="{x_of:g}" y="{found["y"]}" textLength="{length:g}"'
    return f'<text class="{found["style"]}" {place}>{words}</text>\n'


def _step_y(svg: str, number: int) -> float | None:
    """Return where a step's line stands, None where the plan has no such step."""
    found = re.search(rf'y="([\d.]+)"[^>]*>{number}\.{BLANK}', svg)
    return float(found[1]) if found else None


def drawn() -> str:
    """Return the picture as SVG: the first steps of the example's plan, the first thing to do on top."""
    service = example_service()
    plan = plan_service(service)
    console = console_for(io.StringIO(), WIDTH_SIGNS)
    console.record = True
    print_plan(console, service, plan, Units("mm"))
    svg = console.export_svg(title="", theme=PAPER, code_format=FORM, unique_id="plan", font_aspect_ratio=0.6)
    first_y, following_y = _step_y(svg, 1) or 0.0, _step_y(svg, SHOWN_STEPS + 1)
    last_y = following_y - LINE_HEIGHT / 2 if following_y else float("inf")
    head, matrix, tail = re.split(r"(?<=<g transform=\"translate\(12, 12\)\">)|(?=\n</g>\n</svg>)", svg)
    pieces = "".join(_piece(found, first_y, last_y) for found in PIECE.finditer(matrix))
    end_y = max(float(found) for found in re.findall(r' y="([\d.]+)"', pieces))
    if following_y:
        end_y += 1.5 * LINE_HEIGHT
        rest = f"and {len(plan.steps) - SHOWN_STEPS} more steps".replace(" ", BLANK)
        pieces += f'<text class="plan-r5" x="0" y="{end_y:g}">{rest}</text>\n'
    up = first_y - LINE_HEIGHT
    head = head.replace("translate(12, 12)", f"translate(12, {12 - up:g})")
    return f"{head}\n{pieces}{tail.lstrip()}".replace("HEIGHT", f"{end_y - up + 36:g}")


if __name__ == "__main__":
    TARGET.write_text(drawn(), encoding="utf-8")
