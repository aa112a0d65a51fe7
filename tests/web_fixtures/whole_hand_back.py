"""The end of a whole job on the screens: questions, answers, the closed sheet read back, and Today."""

import re
from io import BytesIO

import pdfplumber

from web_fixtures.whole_job import SIGNED, Job


def refused_hand_back(bench: Job) -> list[str]:
    """See that it does not go back while questions stand open; return what is asked."""
    page = bench.page
    page.goto(bench.here)
    with page.expect_navigation():
        bench.press(page.get_by_role("button", name="Handed back"))
    asked = page.locator("ol.steps > li > .field > label").all_inner_texts()
    page.get_by_label("Signed by").fill(SIGNED)
    with page.expect_navigation():
        bench.press(page.get_by_role("button", name="Hand back and close"))
    assert bench.records()[0].closed_at is None
    return asked


def hand_back(bench: Job, cause: str, reason: str, work: tuple[str, ...] = ()) -> None:
    """Hand it back: answer the complaint, give reasons, tick what `work` was done, sign and close."""
    page, close = bench.page, bench.page.get_by_role("button", name="Hand back and close")
    if not page.url.endswith("/hand-back"):
        page.goto(f"{bench.here}/hand-back")
    bench.fits("hand back")
    page.get_by_label("How it ended").select_option("gone")
    page.get_by_label("Checked", exact=True).select_option("both")
    page.get_by_label("What caused it").fill(cause)
    for each in page.locator("textarea[name^='reason:']:not([name^='reason:complaint'])").all():
        each.fill(reason)
    for name in work:
        page.locator(f"[name='did:{name}']").check()
    page.get_by_label("Signed by").fill(SIGNED)
    with page.expect_navigation():
        bench.press(close)
    assert bench.records()[0].closed_at is not None, page.locator("main").inner_text()
    bench.fits("closed")


def sheet_holds(bench: Job, cause: str) -> str:
    """See that the owner's sheet answers the complaint and invents nothing; return its words."""
    text = sheet(bench)
    flat = " ".join(text.replace("\u00ad\n", "").split())  # words broken at the end of a line are whole again
    owner = bench.owner
    for words in (owner.name, owner.instrument, owner.says, f"{owner.price}.00", f"signed {SIGNED}",
                  "It is gone, checked by ear and by figures", f"Cause: {cause[:1].upper()}{cause[1:]}."):  # fmt: skip
        assert words in flat, words
    heights = [row for row in map(_heights, text.splitlines()) if row is not None]
    assert len(heights) == len(bench.truth.instrument.strings), text
    for string, figures in heights:
        read = {one for key, every in bench.typed.items() if f"_{string}_" in key for one in every}
        assert set(figures) <= read, (string, figures, read)  # what is printed as read was typed so
    assert any(figures for _, figures in heights)
    return flat


def is_gone_from_today(bench: Job) -> None:
    """See that Today tells of it as handed back, and of no work on it any more."""
    bench.page.goto(f"{bench.served.url}/")
    bench.fits("today")
    link = bench.page.locator(f"a[href$='/visits/{bench.number}']")
    heads = bench.page.locator("main section", has=link).locator("h2").all_inner_texts()
    assert [one for one in heads if not one.startswith("Handed back")] == []


def sheet(bench: Job) -> str:
    """Return the words of the owner's sheet as a PDF library reads them."""
    link = bench.page.locator("a[href$='/closed/1.pdf']").first
    address = link.evaluate("one => one.href")
    with pdfplumber.open(BytesIO(bench.page.request.get(address).body())) as found:
        return "\n".join(each.extract_text() for each in found.pages)


def _heights(line: str) -> tuple[int, list[str]] | None:
    """Return the string of a line of the sheet's table and the heights printed as read on it; None: another line."""
    found = re.match(r"(\d+) [A-G]\S*(?:, course \d+)? .* mm (?:\(\.\d+ in\) )?(.*)", line)
    if found is None:
        return None
    cells = re.findall(r"(≈ )?(–|[−+-]?\d+(?:\.\d+)?)", found[2])
    return int(found[1]), [figure for reckoned, figure in cells[:3] if not reckoned and figure != "–"]
