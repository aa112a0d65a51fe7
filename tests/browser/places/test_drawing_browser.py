"""Drawings as a real browser sets them: no text over another, none cut off, readable in light, dark and grey."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from breakangle import drawings
from breakangle.drawings.elevation.elevation import elevation, strings_at_the_edges
from breakangle.drawings.look import Drawing, Look
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.reference.families import families
from breakangle.services.plans.charts import history_chart
from breakangle.services.service_files.pictures import buzz_map, clearance_map, elevation_of, intonation_map
from drawing_setups import after, everything_moves, solved
from web_fixtures.rules import found_by_axe

pytest_plugins = ["web_fixtures.browser"]

STYLE = Path(drawings.__file__).with_name("drawing.css").read_text(encoding="utf-8")
PAGE = """<!doctype html><html lang="en" data-theme="{theme}"><head><meta charset="utf-8"><title>Drawings</title>
<style>:root {{ --ink: {ink}; --quiet: {quiet}; --sheet: {sheet}; --main: {main}; --warm: {warm}; }}
body {{ margin: 0; background: {sheet}; color: {ink}; font-family: {face}; }} {style}</style></head>
<body><main><h1>Drawings</h1>{body}</main></body></html>"""
LIGHT = {
    "theme": "light",
    "ink": "#1b2726",
    "quiet": "#55605c",
    "sheet": "#fffdf8",
    "main": "#1f4b48",
    "warm": "#8a4b08",
}
DARK = {
    "theme": "dark",
    "ink": "#ece8de",
    "quiet": "#aeb8b4",
    "sheet": "#1c2424",
    "main": "#8fd0c4",
    "warm": "#f0b866",
}

OVER_EACH_OTHER = """() => [...document.querySelectorAll('svg')].flatMap(svg => {
  const whole = svg.getBoundingClientRect();
  const boxes = [...svg.querySelectorAll('text')].map(one => [one.textContent, one.getBoundingClientRect()]);
  const found = [];
  boxes.forEach(([text, a], i) => {
    const out = a.left < whole.left - 0.6 || a.right > whole.right + 0.6 || a.bottom > whole.bottom + 0.6;
    if (out) found.push('cut ' + text);
    boxes.slice(i + 1).forEach(([other, b]) => {
      const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const air = 0.16 * Math.min(a.height, b.height);   // a line's box is higher than its letters
      const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) - 2 * air;
      if (across > 0.3 && down > 0.3) found.push(text + ' | ' + other);
    });
  });
  return found;
})"""


def shown(page: Page, some: list[Drawing], theme: dict[str, str], face: str = "sans-serif") -> None:
    body = "".join(f"<figure>{one.svg}</figure>" for one in some)
    page.set_content(PAGE.format(style=STYLE, body=body, face=face, **theme))


def of_a_family(kind: str, width: float) -> list[Drawing]:
    service, now = solved(kind)
    moves, look = everything_moves(service.instrument), Look(width=width)
    then, targets = after(now, moves), house_targets(now.board, "medium")
    some = [strings_at_the_edges(now), (1,), (now.board.string_count,)]
    drawn = [elevation(now, one, after=then, adjustments=moves, targets=targets, look=look) for one in some]
    return [*drawn, intonation_map(service, now=now, look=look), clearance_map(service, now=now, look=look)]


@pytest.mark.parametrize("face", ["sans-serif", "serif", "'DejaVu Sans'"])
def test_no_text_stands_over_another_in_a_real_browser(face: str, chromium: Browser):
    page = chromium.new_page(viewport={"width": 1440, "height": 900})
    broken = {}
    for kind in families():
        for width in (340.0, 760.0, 1400.0):
            shown(page, of_a_family(kind, width), LIGHT, face)
            if found := page.evaluate(OVER_EACH_OTHER):
                broken[kind, width] = found
    page.close()
    assert broken == {}


def test_estimated_widths_are_not_too_small(chromium: Browser):
    """In the widest face a page may fall back to, no text is wider than it was taken for.

    But for what the browser rounds each letter to whole pixels by: 4 % at these sizes.
    """
    service, now = solved("electric-guitar")
    drawn = [*of_a_family("electric-guitar", 760.0), buzz_map(service, "medium", now=now)]
    page = chromium.new_page()
    shown(page, drawn, LIGHT, "'DejaVu Sans'")
    widths = page.evaluate(
        "() => [...document.querySelectorAll('text')].map(one => [one.textContent, one.getBBox().width])"
    )
    boxes = [box for one in drawn for box in one.text_boxes]
    assert len(widths) == len(boxes) > 300
    for (text, width), box in zip(widths, boxes, strict=True):
        assert text == box.text
        assert width <= (box.right - box.left) * 1.04 + 0.3, text
    page.close()


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_the_rules_of_access_are_kept(theme: dict[str, str], chromium: Browser):
    service, now = solved("steel-acoustic-guitar")
    page = chromium.new_page()
    shown(
        page, [elevation_of(service, now=now), buzz_map(service, "heavy", now=now), history_chart([])], theme
    )
    assert found_by_axe(page) == []
    page.close()


CONTRAST = """() => {
  const rgb = text => text.match(/[\\d.]+/g).slice(0, 3).map(Number);
  const linear = v => v <= .03928 * 255 ? v / 255 / 12.92 : ((v / 255 + .055) / 1.055) ** 2.4;
  const light = c => { const [r, g, b] = c.map(linear); return .2126 * r + .7152 * g + .0722 * b; };
  const found = {};
  const ink = getComputedStyle(document.querySelector('.dr-text')).fill;
  const quiet = getComputedStyle(document.querySelector('.dr-quiet')).fill;
  const ground = getComputedStyle(document.body).backgroundColor;
  const ratio = (a, b) => {
    const [x, y] = [light(rgb(a)), light(rgb(b))].sort((p, q) => q - p);
    return (x + .05) / (y + .05); };
  for (const cell of document.querySelectorAll('[class^=dr-cell]'))
    found[cell.getAttribute('class')] = ratio(ink, getComputedStyle(cell).fill);
  found.ground = ratio(ink, ground); found.quiet = ratio(quiet, ground);
  for (const name of ['string-after', 'move', 'held']) {
    const one = document.querySelector('.dr-' + name);
    if (one) found[name] = ratio(getComputedStyle(one).stroke, ground);
  }
  return found; }"""


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_figures_stand_out_from_their_tint(theme: dict[str, str], chromium: Browser):
    """Text 4.5 to 1, lines 3 to 1 against what they stand on (WCAG 2.2, criteria 1.4.3 and 1.4.11)."""
    page = chromium.new_page()
    drawn = of_a_family("electric-guitar", 760.0)
    service, now = solved("electric-guitar", 8.0)
    low = solved("electric-guitar", -8.0)
    shown(
        page,
        [
            *drawn,
            intonation_map(service, now=now),
            intonation_map(low[0], now=low[1]),
            buzz_map(low[0], "heavy", now=low[1]),
        ],
        theme,
    )
    found = page.evaluate(CONTRAST)
    tints = {name for name in found if name.startswith("dr-cell")}
    assert {"dr-cell", "dr-cell-warm-1", "dr-cell-warm-3", "dr-cell-cool-1", "dr-cell-cool-3"} <= tints
    weak = {
        name: round(value, 2)
        for name, value in found.items()
        if value < (3.0 if name in ("string-after", "move", "held") else 4.5)
    }
    assert weak == {}
    page.close()


def test_without_its_sheet_a_drawing_says_the_same(chromium: Browser):
    """Classes only add colour: with no style at all every text is still there and nothing is hidden."""
    page = chromium.new_page()
    drawn = of_a_family("mandolin", 760.0)
    page.set_content("".join(one.svg for one in drawn))
    assert page.locator("svg text").count() == sum(len(one.text_boxes) for one in drawn)
    assert page.evaluate(OVER_EACH_OTHER) == []
    page.close()
