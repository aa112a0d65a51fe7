"""From the complaint to a closed sheet in a real browser, on a phone: asked, answered, signed, kept, amended."""

from io import BytesIO

from PIL import Image
from playwright.sync_api import FilePayload, Page

from web_fixtures.process import Served
from web_fixtures.ready import follow, press_in
from web_fixtures.rules import WIDTHS, found_by_axe, small_targets, too_wide_px

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]


def keeps_the_rules(page: Page) -> None:
    assert (found_by_axe(page), too_wide_px(page), small_targets(page)) == ([], 0, [])


def two_photographs_added(screen: Page, here: str) -> None:
    """Add two photographs on the sheet, see that it keeps the rules with them, and the page of one; stand on it."""
    screen.goto(here)
    picture = BytesIO()
    Image.new("RGB", (240, 180), (150, 110, 70)).save(picture, "PNG")
    screen.locator("#photo").set_input_files(
        [
            FilePayload(name=name, mimeType="image/png", buffer=picture.getvalue())
            for name in ("came.png", "left.png")
        ]
    )
    follow(screen.get_by_role("button", name="Add photos"))
    keeps_the_rules(screen)
    follow(screen.locator(".photographs a").first)
    keeps_the_rules(screen)
    screen.goto(here)


def test_a_visit_goes_from_its_complaint_to_a_kept_sheet(served: Served, screen: Page):
    screen.set_viewport_size({"width": WIDTHS["phone"], "height": 740})
    here = f"{served.url}/example/visits/27"
    screen.goto(f"{here}/complaint")
    heading = screen.locator("section h2").first
    assert heading.inner_text().startswith("Buzz at string 6, frets 3 and 5, played hard, with a pick")
    box = screen.locator("input[data-reading='gap_6_4_h3']")
    box.fill("0.04")
    with screen.expect_response(lambda one: one.url.endswith("/readings/one")):
        press_in(box, "Enter")
    keeps_the_rules(screen)
    screen.get_by_label("How it ended").select_option("gone")
    screen.get_by_label("Checked").select_option("by-ear")
    screen.get_by_label("What caused it").fill("the saddle stood too low")
    follow(screen.get_by_role("button", name="Save the answer"))
    two_photographs_added(screen, here)
    follow(screen.get_by_role("button", name="Handed back"))
    assert screen.url.endswith("/hand-back")
    keeps_the_rules(screen)
    assert "Not answered yet" not in screen.locator("main").inner_text()
    for one in screen.locator("textarea[name^='reason:']").all():
        one.fill("the owner wants it back for a concert")
    screen.get_by_label("Signed by").fill("Ada Reed")
    follow(screen.get_by_role("button", name="Hand back and close"))
    screen.wait_for_url(f"{here}#closed")
    told = screen.locator("main").inner_text()
    assert "Handed back and closed on" in told and "Ada Reed" in told
    assert screen.get_by_role("button", name="Waiting").count() == 0
    keeps_the_rules(screen)
    kept = screen.request.get(f"{here}/closed/1.pdf").body()
    screen.get_by_text("Amend it").click()
    screen.get_by_label("What is amended, and why").fill("the humidity was mistyped")
    follow(screen.get_by_role("button", name="Open it for the amendment"))
    assert "Open for an amendment: the humidity was mistyped" in screen.locator("main").inner_text()
    follow(screen.get_by_role("button", name="Leave it as it was"))
    assert screen.request.get(f"{here}/paper/hand-back.pdf").body() == kept
