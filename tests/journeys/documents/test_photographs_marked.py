"""Photographs: taken, marked with a finger, captioned, before beside after, removed and brought back."""

import json
import re
from io import BytesIO

import pytest
from PIL import Image
from playwright.sync_api import Browser
from starlette.testclient import TestClient

from breakangle.model.errors import CorrectInputError
from breakangle.services.documents.photograph_page import marks_typed, photographs
from breakangle.storage.records.records import Attachment, Visit
from breakangle.storage.records.store import Shop
from web_fixtures.opened import workshop_of
from web_fixtures.process import Served
from web_fixtures.ready import follow
from web_fixtures.rules import found_by_axe, small_targets, too_wide_px

pytest_plugins = ["web_fixtures.at_hand", "web_fixtures.served", "web_fixtures.browser"]
LINE = [[0.1, 0.2], [0.5, 0.6]]


def picture() -> bytes:
    out = BytesIO()
    Image.new("RGB", (600, 400), "#a97").save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def photographed(first_sheet: TestClient) -> tuple[TestClient, str]:
    """Return the app with one photograph on sheet 1, and the photograph's path."""
    first_sheet.post("/visits/1/photographs", files={"photographs": ("nut.jpg", picture(), "image/jpeg")})
    (one,) = workshop_of(first_sheet).shop().every(Attachment)
    return first_sheet, f"/visits/1/photographs/{one.id}"


def test_caption_marks_and_place_are_stored_and_shown(photographed: tuple[TestClient, str]):
    client, path = photographed
    sent = {"caption": "the low slot", "shown": "before", "marks": json.dumps([LINE]), "version": "1"}
    assert client.post(path, data=sent).status_code == 200
    shop = workshop_of(client).shop()
    (one,) = photographs(shop, shop.every(Visit)[0])
    assert one.strokes == (((0.1, 0.2), (0.5, 0.6)),)
    sheet = client.get("/visits/1").text
    part = sheet[sheet.index("As it came") :]
    assert '<polyline points="100,200 500,600"/>' in part
    assert "the low slot" in part
    assert client.post(path, data=sent | {"caption": "another"}).status_code == 409, (
        "it was seen in version 1"
    )


def test_removed_it_is_gone_and_undo_brings_it_back(photographed: tuple[TestClient, str]):
    client, path = photographed
    page = client.post(f"{path}/remove")
    key = path.rsplit("/", 1)[1]
    assert "The photograph was removed." in page.text
    assert f"/attachments/{key}/small" not in page.text
    client.post(f"{path}/remove")  # sent twice
    assert client.get(path).status_code == 404
    client.post(re.findall(r'action="([^"]+/restore)"', page.text)[0])
    assert f"/attachments/{key}/small" in client.get("/visits/1").text


@pytest.mark.parametrize("text", ["[[[0.1, 2.0]]]", "nothing", "[[1, 2]]", json.dumps([LINE] * 41)])
def test_marks_that_are_none_are_refused(text):
    with pytest.raises(CorrectInputError):
        marks_typed(text)


def test_no_marks_are_none():
    assert marks_typed("") is None
    assert marks_typed("[]") is None


def test_a_photograph_of_another_visit_is_not_changed(photographed: tuple[TestClient, str]):
    client, path = photographed
    shop = workshop_of(client).shop()
    instrument = shop.every(Visit)[0].instrument_id
    client.post("/visits/new", data={"instrument": instrument})
    assert client.post(path.replace("/visits/1/", "/visits/2/"), data={"caption": "mine"}).status_code == 404


def test_a_finger_draws_on_a_phone(chromium: Browser, served: Served):
    context = chromium.new_context(viewport={"width": 360, "height": 740}, has_touch=True, locale="en-GB")
    page = context.new_page()
    troubles: list[str] = []
    page.on("console", lambda told: troubles.append(told.text) if told.type == "error" else None)
    page.goto(f"{served.url}/example/visits/27")
    page.set_input_files("#photo", {"name": "nut.jpg", "mimeType": "image/jpeg", "buffer": picture()})
    assert page.locator("#photo").get_attribute("capture") == "environment"
    follow(page.locator("form:has(#photo) button"))
    follow(page.locator(".photographs a").last)
    box = page.locator("#drawn-on img").bounding_box()
    assert box is not None
    assert page.locator("#drawn-on .marked").evaluate("one => getComputedStyle(one).touchAction") == "none"
    page.mouse.move(box["x"] + 0.25 * box["width"], box["y"] + 0.5 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.75 * box["width"], box["y"] + 0.5 * box["height"], steps=4)
    page.mouse.up()
    page.get_by_label("Circle, from its middle").check()
    box = page.locator("#drawn-on img").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + 0.5 * box["height"], steps=3)
    page.mouse.up()
    assert page.locator("#mark-count").inner_text() == "2 marks. Save stores them."
    page.get_by_role("button", name="Take the last mark away").click()
    page.get_by_label("Caption").fill("low slot")
    assert found_by_axe(page) == []
    assert (too_wide_px(page), small_targets(page)) == (0, [])
    follow(page.get_by_role("button", name="Save"))
    follow(page.get_by_text("low slot").last)
    line = page.locator("#drawn-on polyline:not(.rim)")
    assert line.count() == 1
    first, *_, last = str(line.get_attribute("points")).split()
    assert abs(int(first.split(",")[0]) - 250) <= 5
    assert abs(int(last.split(",")[0]) - 750) <= 5
    assert troubles == []
    context.close()


def version(shop: Shop, key: str) -> str:
    return str(shop.get(Attachment, key).version)


def test_two_photographs_chosen_as_a_pair_stand_side_by_side_on_screen_and_on_paper(
    photographed: tuple[TestClient, str],
):
    client, first = photographed
    client.post("/visits/1/photographs", files={"photographs": ("after.jpg", picture(), "image/jpeg")})
    shop = workshop_of(client).shop()
    before, after = (one.record.id for one in photographs(shop, shop.every(Visit)[0]))
    assert first.endswith(before)
    sent = {"caption": "new slot", "shown": "after", "pair": before, "version": "1"}
    assert client.post(f"/visits/1/photographs/{after}", data=sent).status_code == 200
    sheet = client.get("/visits/1").text
    part = re.findall(r'<div class="photograph-pair".*?</div></div></div>', sheet, re.DOTALL)
    assert len(part) == 1
    assert part[0].index(f"/attachments/{before}/small") < part[0].index(f"/attachments/{after}/small")
    assert "new slot" in part[0]
    assert sheet.count(f"/attachments/{after}/small") == 1
    paper = client.get("/visits/1/paper/hand-back.html").text
    beside = re.findall(
        r'<div class="beside"><div><figure.*?</figure></div><div><figure.*?</figure></div>', paper, re.DOTALL
    )
    assert any("As it came" in one and "As it left: new slot" in one for one in beside)
    parted = client.post(
        f"/visits/1/photographs/{after}", data=sent | {"pair": "", "version": version(shop, after)}
    )
    assert parted.status_code == 200
    assert "photograph-pair" not in client.get("/visits/1").text
    refused = client.post(
        f"/visits/1/photographs/{after}", data=sent | {"pair": after, "version": version(shop, after)}
    )
    assert refused.status_code == 422
