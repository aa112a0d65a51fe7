"""Work, strings and trying out as a person at the bench uses them, by key where hands are busy."""

import re
import time

from playwright.sync_api import Page, expect

from breakangle.model.service import Service
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import visit_numbered
from breakangle.services.workshop.opening import shop_at
from web_fixtures.process import Served
from web_fixtures.ready import press, press_in

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]


def service(served: Served, number: int) -> Service:
    shop = shop_at(served.folder / "example")
    try:
        return service_of(shop, visit_numbered(shop, number).id)
    finally:
        shop.close()


def test_a_procedure_is_walked_by_pedal_done_by_its_key_and_says_what_must_come_first(
    screen: Page, served: Served
):
    screen.goto(f"{served.url}/example/visits/27/work")
    screen.get_by_role("link", name=re.compile("Step by step Clean, and oil")).click()
    screen.get_by_label("is bare wood").check()
    screen.get_by_role("button", name="Save").click()
    screen.get_by_text("All steps").click()
    screen.get_by_role("link", name=re.compile("Wipe a thin film of oil")).click()
    expect(screen.get_by_text("oil clogs")).to_be_visible()
    screen.get_by_text("All steps").click()
    screen.get_by_role("link", name=re.compile("Cover pickups")).click()
    expect(screen.locator(".do")).to_contain_text("Cover pickups")
    for key, wanted in (("PageDown", "grime off the frets"), ("PageUp", "Cover pickups")):
        press(screen, key)
        expect(screen.locator(".do")).to_contain_text(wanted)
        expect(screen.locator("main .tag.good")).to_have_count(0)
    for stored, wanted in (("Cover pickups", "grime off the frets"), ("grime", "Take the dust off")):
        press(screen, "Control+Enter")
        expect(screen.locator(".do")).to_contain_text(wanted)
        expect(screen.locator(".stored")).to_contain_text(stored)
    press(screen, "Control+z")
    expect(screen.locator(".do")).to_contain_text("grime off the frets")
    press(screen, "Control+y")
    expect(screen.locator(".do")).to_contain_text("Take the dust off")
    screen.get_by_role("button", name="Store everything here as done").click()
    expect(screen.locator("h1")).to_contain_text("finished")
    expect(screen.locator(".stored")).to_contain_text("steps at once")


def test_a_timer_counts_on_after_a_reload(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/27/work")
    screen.get_by_role("link", name=re.compile("Step by step Clean, and oil")).click()
    screen.get_by_label("is bare wood").check()
    screen.get_by_role("button", name="Save").click()
    screen.get_by_text("All steps").click()
    screen.get_by_role("link", name=re.compile("Wipe a thin film of oil")).click()
    screen.get_by_role("button", name="It stands: start the timer").click()
    time.sleep(1.2)
    screen.reload()
    expect(screen.get_by_role("timer")).to_contain_text(re.compile(r"[1-9]\d* s standing"))
    served.kill()
    served.start()
    screen.reload()
    expect(screen.get_by_role("timer")).to_contain_text(re.compile(r"[2-9]\d* s standing|1\d s standing"))


def test_trying_out_answers_while_a_control_moves_and_stores_nothing_before_it_is_made_the_target(
    screen: Page, served: Served
):
    before = service(served, 27)
    screen.goto(f"{served.url}/example/visits/27/try")
    drawn = screen.locator("#answer svg").first.inner_html()
    control = screen.get_by_label(re.compile("Action, lowest string"))
    control.focus()
    press_in(control, "ArrowLeft", 20)
    expect(screen.locator("#answer svg").first).not_to_have_js_property("innerHTML", drawn)
    screen.get_by_label("intonation").check()
    expect(screen.locator("#answer")).to_contain_text("figures: cents")
    assert service(served, 27) == before
    screen.get_by_role("button", name="Make this the target").click()
    expect(screen).to_have_url(f"{served.url}/example/visits/27/plan")
    kept = service(served, 27).targets
    assert kept is not None
    wanted = {(one.string, one.fret): one for one in kept.wanted if one.quantity == "gap"}
    lowest = max(string for string, _ in wanted)
    assert wanted[lowest, 12].mm < 1.85  # type: ignore[attr-defined]


def test_other_strings_are_tried_on_and_then_put_on(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/27/strings")
    box = screen.get_by_role("group", name="String 1").last.get_by_label("Diameter")
    box.fill(".011in")
    screen.get_by_role("button", name="What would it do?").click()
    expect(screen.get_by_role("region", name="Nut slots")).to_contain_text("0.254 mm → 0.279 mm")
    assert service(served, 27).instrument_now().in_order()[0].diameter_mm == 0.254
    screen.get_by_role("button", name="They are on now").click()
    expect(screen.get_by_role("region", name="What is on, at pitch")).to_contain_text("0.279 mm")
    assert service(served, 27).instrument_now().in_order()[0].diameter_mm == 0.2794


def test_an_ambiguous_size_is_refused_with_what_it_could_be(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/27/strings/swap?diameter-6=.2")
    expect(screen.get_by_role("alert")).to_contain_text("could be 0.2 mm or 0.2 in")


def test_ticks_and_amounts_outlive_a_plan_that_is_worked_out_anew(screen: Page, served: Served):
    screen.goto(f"{served.url}/example/visits/27/plan")
    card = screen.locator("section.trip").first
    card.get_by_text("Otherwise than planned").click()
    card.locator("ol.lines input[type=checkbox]").first.check()
    amount = card.locator("[name='amount:1']")
    amount.fill("1/4")
    screen.locator("#plan").evaluate("plan => { plan.firstElementChild.dataset.old = 'yes'; }")
    with screen.expect_response(re.compile("part=yes")):
        screen.evaluate("document.body.dispatchEvent(new Event('readings-changed'))")
    expect(screen.locator("#plan > [data-old]")).to_have_count(0)
    expect(amount).to_have_value("1/4")
    expect(amount).to_be_visible()
    expect(amount).to_be_focused()
    expect(card.locator("ol.lines input[type=checkbox]").first).to_be_checked()
    press(screen, "Escape")
    screen.evaluate("document.activeElement.blur()")
    with screen.expect_navigation():
        press(screen, "Control+Enter")
    last = service(served, 27).work[-1]
    assert last.model_dump()["turns"] == 0.25
