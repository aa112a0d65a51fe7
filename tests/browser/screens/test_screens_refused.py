"""A refusal on the screens: in sight, with the way back to what was typed; and what is odd, later readings told."""

import numpy as np
from playwright.sync_api import Page, expect

from web_fixtures.played import on_the_bench
from web_fixtures.process import Served
from web_fixtures.ready import press

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]


def test_what_was_refused_is_in_its_boxes_again(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/27")
    screen.get_by_label("For what").fill("bone nut")
    screen.get_by_label("Price of one").fill("many")
    screen.get_by_role("button", name="Add", exact=True).click()
    expect(screen.get_by_role("alert")).to_contain_text("many")
    screen.get_by_role("link", name="Go back").click()
    expect(screen).to_have_url(f"{served.url}/example/visits/27")
    expect(screen.get_by_label("For what")).to_have_value("bone nut")
    expect(screen.get_by_label("Price of one")).to_have_value("many")
    screen.get_by_label("Price of one").fill("9.50")
    screen.get_by_role("button", name="Add", exact=True).click()
    expect(screen.get_by_label("Price of one")).to_have_value("")
    expect(screen.get_by_role("region", name="Lines of the bill")).to_contain_text("bone nut")


def test_a_refused_swap_is_seen_and_leaves_no_older_answer(screen: Page, served: Served):
    screen.set_viewport_size({"width": 360, "height": 740})
    screen.goto(f"{served.url}/example/visits/27/strings")
    note = screen.get_by_role("group", name="String 6").last.get_by_label("Note")
    ask = screen.locator("#swap-form").get_by_role("button", name="What would it do?")
    note.fill("D2")
    ask.click()
    expect(screen.locator("#swap")).to_contain_text("Pull on the neck", timeout=20_000)
    note.fill("H9")
    ask.click()
    expect(screen.get_by_role("alert").first).to_contain_text("H9")
    expect(screen.locator("#message .message")).to_be_in_viewport()
    expect(screen.locator("#swap")).to_be_empty()
    note.fill("D2")
    ask.click()
    expect(screen.locator("#swap")).to_contain_text("Pull on the neck", timeout=20_000)
    expect(screen.locator("#message")).to_be_empty()


def test_what_is_odd_follows_the_later_readings(screen: Page, served: Served):
    screen.goto(f"{served.url}/visits/{on_the_bench(served.folder)}/readings")
    boxes = {string: f"gap_{string}_12_h1" for string in (6, 5, 4, 3, 2, 1)}
    screen.locator(f"#in-{boxes[6]}").fill("2.40")
    press(screen, "Enter")
    expect(screen.locator(f"#told-{boxes[6]}")).to_contain_text("kept")
    for string, mm in zip((5, 4, 3, 2, 1), np.linspace(1.45, 1.2, 5), strict=True):
        screen.locator(f"#in-{boxes[string]}").fill(f"{mm:.2f}")
        press(screen, "Enter")
        expect(screen.locator(f"#told-{boxes[string]}")).to_contain_text("kept")
    expect(screen.locator(f"#box-{boxes[6]}")).to_have_class("reading odd")
    shown = screen.locator(f"#told-{boxes[6]} .odd-one").inner_text()
    screen.reload()
    expect(screen.locator(f"#told-{boxes[6]} .odd-one")).to_have_text(shown)
    screen.locator(f"#in-{boxes[6]}").fill("1.50")
    press(screen, "Enter")
    expect(screen.locator(f"#box-{boxes[6]}")).to_have_class("reading")
    expect(screen.locator(".reading.odd, .odd-one")).to_have_count(0)
