"""Try out while a control is dragged: pictures follow at once, tables when it rests, and no late answer wins."""

import pytest
from playwright.sync_api import Page, expect

from web_fixtures.process import Served
from web_fixtures.ready import press_in

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]
SHOWN = "() => document.querySelector('#answer svg desc').textContent"
# The first answer to a move comes when it is let go, whatever became of it; whole answers are counted.
FIRST_IS_LATE = """() => {
  window.whole = 0;
  document.addEventListener("htmx:afterSwap", () => { window.whole += 1; });
  const plain = window.fetch;
  let first = true;
  window.fetch = async (address, given) => {
    if (!first || !String(address).includes("moving=true")) return plain(address, given);
    first = false;
    await new Promise((go) => { window.letGo = go; });
    return new Response("<svg class='drawing'><desc>late</desc></svg>".repeat(2));
  };
}"""
# How often a handle rested, and when it moved last: on a slow machine a hand that is only slow rests in between.
RESTS = """() => {
  window.rests = 0;
  window.moved = performance.now();
  const form = document.querySelector("#controls");
  form.addEventListener("settled", () => { window.rests += 1; });
  form.addEventListener("input", () => { window.moved = performance.now(); });
}"""
STILL = "() => performance.now() - window.moved > 600"
# How many requests for a moving handle's pictures were on their way at once; one that is broken off is not.
AT_ONCE = """() => {
  [window.open, window.most] = [0, 0];
  const plain = window.fetch;
  window.fetch = (address, given) => {
    if (!String(address).includes("moving=true")) return plain(address, given);
    let over = false;
    const end = () => { if (!over) [over, window.open] = [true, window.open - 1]; };
    window.most = Math.max(window.most, (window.open += 1));
    given.signal.addEventListener("abort", end);
    const answer = plain(address, given);
    answer.then(end, end);
    return answer;
  };
}"""
STANDS = "() => document.querySelector('#action_low_mm').value"


def hold(page: Page, share: float) -> None:
    """Take the handle of the lowest string's action to `share` of its way, and keep it held."""
    control = page.locator("#action_low_mm")
    control.scroll_into_view_if_needed()
    box = control.bounding_box()
    assert box is not None
    height = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + box["width"] * 0.5, height)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * share, height, steps=6)


@pytest.fixture
def tried(screen: Page, looked_at: Served) -> Page:
    """Return Try out of the example's open visit."""
    screen.goto(f"{looked_at.url}/example/visits/27/try", wait_until="networkidle")
    return screen


def _address(page: Page) -> str:
    form = "new URLSearchParams(new FormData(document.querySelector('#controls'))).toString()"
    return f"{page.url.split('?')[0]}?{page.evaluate(form)}"


def _as_loaded_anew(page: Page, what: str) -> str:
    """Return what a page without any dragging would show for the controls as they stand."""
    other = page.context.new_page()
    other.goto(_address(page), wait_until="networkidle")
    told: str = other.locator(what).first.evaluate("one => one.textContent")
    other.close()
    return told


def _comes_to(page: Page, what: str, wanted: str) -> None:
    """Wait until a part of the page says what it should."""
    says = "([what, wanted]) => document.querySelector(what).textContent === wanted"
    page.wait_for_function(says, arg=[what, wanted])


def test_pictures_follow_a_held_handle_and_the_tables_follow_when_it_rests(tried: Page):
    drawn, table = tried.evaluate(SHOWN), tried.locator("#answer table").first.text_content()
    asked: list[str] = []
    tried.on("request", lambda one: asked.append(one.url))
    tried.evaluate(RESTS)
    hold(tried, 0.2)
    tried.wait_for_function(f"drawn => ({SHOWN})() !== drawn", arg=drawn)
    tried.wait_for_function(
        "table => document.querySelector('#answer table').textContent !== table", arg=table
    )
    tried.wait_for_function(STILL)
    whole = [one for one in asked if "/try?" in one and "moving=true" not in one]
    assert 1 <= len(whole) <= tried.evaluate("window.rests")
    tried.mouse.up()
    assert [one for one in asked if "moving=true" in one]
    for what in ("#answer svg desc", "#answer table", "#answer .answers"):
        _comes_to(tried, what, _as_loaded_anew(tried, what))


def test_a_late_answer_does_not_draw_over_a_newer_one(tried: Page):
    tried.evaluate(FIRST_IS_LATE)
    hold(tried, 0.15)
    tried.mouse.up()
    tried.wait_for_function("() => window.whole === 1")
    tried.wait_for_timeout(300)
    expected = _as_loaded_anew(tried, "#answer svg desc")
    assert tried.evaluate(SHOWN) == expected
    tried.evaluate("window.letGo()")
    tried.wait_for_timeout(300)
    assert tried.evaluate(SHOWN) == expected


def test_one_request_at_a_time_is_on_its_way_while_a_handle_moves(tried: Page):
    tried.evaluate(AT_ONCE)
    hold(tried, 0.1)
    tried.mouse.up()
    tried.wait_for_timeout(600)
    assert tried.evaluate("window.most") == 1


def test_a_bench_that_goes_away_while_a_handle_moves_is_told_of_and_the_controls_still_move(tried: Page):
    drawn = tried.evaluate(SHOWN)
    tried.context.set_offline(True)
    hold(tried, 0.2)
    tried.mouse.up()
    expect(tried.locator("#offline")).to_be_visible()
    stands = tried.evaluate(STANDS)
    assert tried.evaluate(SHOWN) == drawn
    tried.context.set_offline(False)
    expect(tried.locator("#offline")).to_be_hidden(timeout=10_000)
    press_in(tried.locator("#action_low_mm"), "ArrowLeft")
    tried.wait_for_function(f"drawn => ({SHOWN})() !== drawn", arg=drawn)
    assert tried.evaluate(STANDS) != stands
