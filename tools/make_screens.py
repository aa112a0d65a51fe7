"""Take the pictures of the screens from a real browser: `python tools/make_screens.py` writes docs/screens/."""

import shutil
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests"))

from breakangle.services.example_workshop.workshop import load_example  # noqa: E402
from web_fixtures.process import Served  # noqa: E402

TARGET = ROOT / "docs" / "screens"
DESKTOP, TABLET, PHONE = (1280, 860), (820, 1180), (360, 760)
# Name of the picture, what it shows, the window, light or dark.
SHOTS = (
    ("today", "/", DESKTOP, "light"),
    ("plan", "/visits/27/plan#trip-1", DESKTOP, "light"),
    ("plan-phone", "/visits/27/plan#trip-1", PHONE, "light"),
    ("readings", "/visits/27/readings", TABLET, "light"),
    ("try-out", "/visits/27/try?action_low_mm=1.5&shown=intonation", DESKTOP, "dark"),
    ("listen-phone", "/visits/27/listen", PHONE, "light"),
    ("strings", "/visits/27/strings", DESKTOP, "light"),
    ("work-phone", "/visits/27/work", PHONE, "dark"),
    ("paper", "/visits/27/paper", DESKTOP, "light"),
)
COLOURS = 128


def shot(browser: Browser, address: str, size: tuple[int, int], theme: str, target: Path) -> None:
    """Write one picture of what the window shows, in few colours so that it stays small."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme=theme,
        locale="en-GB",
        device_scale_factor=1,
    )
    page = context.new_page()
    page.goto(address)
    page.wait_for_load_state("networkidle")
    page.screenshot(path=target)
    context.close()
    with Image.open(target) as picture:
        picture.convert("RGB").quantize(COLOURS).save(target, optimize=True)


def main() -> None:
    """Serve the example workshop and take every picture."""
    folder = Path(tempfile.mkdtemp(prefix="breakangle-screens-"))
    TARGET.mkdir(parents=True, exist_ok=True)
    load_example(folder, datetime.now(UTC))
    served = Served(folder)
    served.start()
    try:
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
            for name, path, size, theme in SHOTS:
                shot(browser, f"{served.url}/example{path}", size, theme, TARGET / f"{name}.png")
    finally:
        served.stop()
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
