"""From a finger's move to the picture: Try out's answers in a real browser, timed by the page's own clock."""

import os
import statistics

from playwright.sync_api import sync_playwright

from web_fixtures.process import Served

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
WIDTHS = (360, 820, 1440)
STEPS, STEADY_MS, FAST_MS = 40, 150, 16
# Every move of a control waits until the frame in which an answer that was asked for after it is painted. While it is
# dragged the page asks by `fetch`, one at a time, and draws what came before the next can come.
WATCH = """window.waits = [];
let moved = [];
const come = [];
document.addEventListener('input', (event) => moved.push(event.timeStamp), true);
const plain = window.fetch;
window.fetch = async (address, ...rest) => {
    if (!String(address).includes('moving=true')) return plain(address, ...rest);
    const carried = moved;
    moved = [];
    const answer = await plain(address, ...rest);
    come.push(carried);
    return answer;
};
new MutationObserver(() => {
    const carried = come.shift() ?? [];
    requestAnimationFrame(() => {
        const painted = new MessageChannel();
        painted.port1.onmessage = () => {
            const now = performance.now();
            for (const one of carried) window.waits.push(now - one);
        };
        painted.port2.postMessage(0);
    });
}).observe(document.querySelector('#answer'), { childList: true, subtree: true });"""


def _line(width: int, name: str, waits: list[float]) -> str:
    late = sorted(waits)[int(0.95 * (len(waits) - 1))]
    return f"{width:5d} px {name:28s} {len(waits):4d} {statistics.median(waits):8.0f} {late:8.0f}"


def drag_report(served: Served, path: str) -> str:
    """Return milliseconds from a control's move to the picture, with pauses between moves and without, by width."""
    lines = [f"{'Try out, drag to picture':37s} {'n':>4s} {'median':>8s} {'p95':>8s}"]
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        for width in WIDTHS:
            page = browser.new_context(viewport={"width": width, "height": 900}).new_page()
            page.goto(f"{served.url}{path}", wait_until="networkidle")
            page.evaluate(WATCH)
            box = page.locator("#action_low_mm").bounding_box()
            assert box is not None
            height = box["y"] + box["height"] / 2
            page.mouse.move(box["x"] + box["width"] / 2, height)
            page.mouse.down()
            for name, pause_ms in (("a move every 150 ms", STEADY_MS), ("without a pause", FAST_MS)):
                page.evaluate("window.waits = []")
                for step in range(STEPS):
                    page.mouse.move(box["x"] + box["width"] * (0.5 + 0.4 * step / STEPS), height)
                    page.wait_for_timeout(pause_ms)
                page.wait_for_timeout(500)
                lines.append(_line(width, name, page.evaluate("window.waits")))
            page.context.close()
        browser.close()
    return "\n".join(lines)
