"""Paper: how true a print is, how long a sheet takes, and a batch of sheets."""

import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

import pdfplumber

from breakangle.services.documents.batch import Batch, sheets_into, visits_of
from breakangle.services.documents.labels import labels_file
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.documents.templates import template_file, templates
from breakangle.services.workshop.opening import shop_at
from paper_fixtures.instruments import EVERY_SERVICE, family_service
from paper_fixtures.rendered import strokes
from paper_fixtures.visits import headed, visit_with
from shop_fixtures.many import fill_many

SHEETS, QUICK_SHEETS = 1_000, 30
READINGS_A_SHEET = 20


def report(quick: bool = False) -> str:
    """Return the tables."""
    folder = Path(tempfile.mkdtemp(prefix="paper-"))
    try:
        lines = [
            *_true_size(folder),
            *_templates(),
            *_sheets(folder / "shop"),
            *_batch(folder / "many", quick),
        ]
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return "\n".join(lines)


def _true_size(folder: Path) -> list[str]:
    """Measure bars and frets on the page, against plain arithmetic."""
    service = family_service("electric-guitar")
    scale = service.instrument.scale_mm
    lines = ["true size, vectors on the page         bar across  bar down   worst fret on a page"]
    for on in ("a4", "letter"):
        path = folder / f"{on}.pdf"
        path.write_bytes(template_file(service, "fret-positions", on=on))
        with pdfplumber.open(path) as pdf:
            found = strokes(pdf.pages[0])
        across, down = sorted(
            (one for one in found if abs(one.length_mm - 100.0) < 1.0), key=lambda one: one.y1 - one.y0
        )
        level = sorted(
            {one.y0 for one in found if abs(one.y1 - one.y0) < 1e-3 and 30.0 < one.length_mm < 90.0}
        )
        wanted = [scale * (1.0 - 2.0 ** (-fret / 12.0)) for fret in range(len(level))]
        worst = max(abs(place - level[0] - far) for place, far in zip(level, wanted, strict=True))
        lines.append(
            f"{on:36} {across.length_mm:11.4f} {down.length_mm:9.4f} {worst:12.5f} mm of {len(level)} frets"
        )
    return lines


def _templates() -> list[str]:
    lines = ["", "a template of each instrument: ms, median and worst      pdf          svg          dxf"]
    for kind in templates():
        cells = []
        for form in ("pdf", "svg", "dxf"):
            took = [
                _ms(lambda s=service, f=form, k=kind: template_file(s, k.name, f))
                for service in EVERY_SERVICE.values()
            ]
            cells.append(f"{statistics.median(took):5.0f} {max(took):5.0f}")
        lines.append(f"{kind.name:52} {'   '.join(cells)}")
    return lines


def _ms(todo) -> float:
    start = time.perf_counter()
    todo()
    return 1000.0 * (time.perf_counter() - start)


def _sheets(folder: Path) -> list[str]:
    shop = shop_at(folder)
    headed(shop)
    visit = visit_with(shop)
    lines = ["", "a sheet of a visit that is open           wall, best and median of 7    processor, best"]
    for words, todo in (
        ("hand-back, two pages with pictures", lambda: sheet_file(shop, visit)),
        ("hand-back without pictures", lambda: sheet_file(shop, visit, pictures=False)),
        ("hand-back as HTML", lambda: sheet_file(shop, visit, form="html")),
        ("bench sheet", lambda: sheet_file(shop, visit, "bench")),
        ("label", lambda: labels_file(shop, [visit])),
    ):
        todo()
        walls, works = [], []
        for _ in range(7):
            work = time.process_time()
            walls.append(_ms(todo))
            works.append(1000.0 * (time.process_time() - work))
        lines.append(f"{words:42} {min(walls):6.0f} {statistics.median(walls):6.0f} ms {min(works):20.0f} ms")
    shop.close()
    return lines


def _batch(folder: Path, quick: bool) -> list[str]:
    """Make many sheets of many instruments, break off half way, and go on."""
    count = QUICK_SHEETS if quick else SHEETS
    shop = shop_at(folder)
    fill_many(shop, count * READINGS_A_SHEET)
    visits, batch, out = visits_of(shop), Batch(), folder / "sheets"
    start = time.perf_counter()
    running = sheets_into(shop, out, visits, batch)
    for _ in range(count // 2):
        next(running)
    running.close()
    half = time.perf_counter() - start
    states = [one.state for one in sheets_into(shop, out, visits, batch)]
    whole = time.perf_counter() - start
    start = time.perf_counter()
    again = [one.state for one in sheets_into(shop, out, visits, batch)]
    rest = time.perf_counter() - start
    made = len(list(out.glob("*.pdf")))
    shop.close()
    told = {one: states.count(one) for one in sorted(set(states))}
    return [
        "",
        f"batch of {count} sheets: {half:.0f} s for the first half, broken off, {whole:.0f} s in all "
        f"({1000 * whole / count:.0f} ms a sheet); going on: {told}; files: {made}; once more: {rest:.1f} s, all "
        f"{' and '.join(sorted(set(again)))}",
    ]
