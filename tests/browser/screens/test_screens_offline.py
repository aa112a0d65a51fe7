"""When the bench does not answer: pages last seen open, a ribbon says so, and all is as before once it is back."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from breakangle.web.guard import DEVICE_COOKIE
from web_fixtures.devices import code_for
from web_fixtures.process import Served
from web_fixtures.ready import press_in

pytest_plugins = ["web_fixtures.served", "web_fixtures.browser"]
READY = (
    "async () => { await navigator.serviceWorker.ready; return Boolean(navigator.serviceWorker.controller); }"
)
AGED = """async () => {
    const pages = await caches.open("pages");
    const old = () => new Response("<p>old</p>", {headers: {"content-type": "text/html"}});
    for (const one of await pages.keys()) await pages.put(one, old());
}"""
USED = """[...document.querySelectorAll('script[src], link[rel=stylesheet]')]
    .map((one) => new URL(one.src || one.href).pathname)"""
CACHED = """async () => Promise.all((await caches.keys()).map(async (name) => [name,
    (await (await caches.open(name)).keys()).map((one) => new URL(one.url).pathname)])).then(Object.fromEntries)"""


def served_by_worker(page: Page, served: Served) -> Page:
    page.goto(f"{served.url}/example/")
    page.wait_for_function(READY)
    return page


@pytest.fixture
def installed(screen: Page, looked_at: Served) -> Page:
    """Return a tab that the worker serves."""
    return served_by_worker(screen, looked_at)


def kept(page: Page) -> dict[str, list[str]]:
    return dict(page.evaluate(CACHED))


def seen(page: Page, url: str) -> str:
    page.goto(url)
    page.wait_for_function("async (path) => Boolean(await (await caches.open('pages')).match(path))", arg=url)
    return page.locator("main").inner_text()


def test_the_browser_finds_it_installable(installed: Page, context: BrowserContext):
    asked = context.new_cdp_session(installed)
    found = asked.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [one["errorId"] for one in found if one["errorId"] != "in-incognito"] == []
    manifest = asked.send("Page.getAppManifest")
    assert manifest["errors"] == []
    assert manifest["url"].endswith("/app.webmanifest")


def test_a_killed_bench_shows_what_was_seen_and_comes_back(screen: Page, served: Served):
    installed = served_by_worker(screen, served)
    url = f"{served.url}/example/visits/27/listen"
    text = seen(installed, url)
    served.kill()
    installed.reload()
    assert installed.locator("main").inner_text() == text
    expect(installed.locator("#offline")).to_be_visible()
    expect(installed.locator("#offline")).to_contain_text("The bench does not answer")
    assert installed.locator(".top").evaluate("one => getComputedStyle(one).display") == "flex", (
        "its styles are kept too"
    )
    installed.goto(f"{served.url}/example/visits/26/plan")
    expect(installed.get_by_role("heading", name="The bench does not answer")).to_be_visible()
    served.start()
    expect(installed.locator("#offline")).to_be_hidden(timeout=10_000)
    installed.goto(url)
    assert installed.locator("main").inner_text() == text


def test_a_lost_network_does_the_same(installed: Page, looked_at: Served, context: BrowserContext):
    text = seen(installed, f"{looked_at.url}/example/instruments")
    context.set_offline(True)
    installed.reload()
    assert installed.locator("main").inner_text() == text
    expect(installed.locator("#offline")).to_be_visible()
    context.set_offline(False)
    expect(installed.locator("#offline")).to_be_hidden(timeout=10_000)


def test_while_the_bench_answers_nothing_old_is_shown(installed: Page, looked_at: Served):
    seen(installed, f"{looked_at.url}/example/")
    installed.evaluate(AGED)
    installed.reload()
    expect(installed.get_by_role("heading", name="Today", exact=True)).to_be_visible()


def test_what_must_not_be_kept_is_not(installed: Page, looked_at: Served):
    for path in ("/pair", "/authority", "/shop/devices", "/shop/backups", "/example/shop/devices"):
        installed.goto(looked_at.url + path)
    seen(installed, f"{looked_at.url}/example/shop")
    pages = [
        path for name, paths in kept(installed).items() if not name.startswith("files") for path in paths
    ]
    assert "/example/shop" in pages
    assert not [
        one for one in pages if one.endswith(("/pair", "/authority", "/devices", "/backups", "/ping"))
    ]


def test_answers_to_a_control_that_is_dragged_push_nothing_out(installed: Page, looked_at: Served):
    installed.goto(f"{looked_at.url}/example/visits/27/try")
    expect(installed.locator("html.scripted")).to_have_count(1)
    with installed.expect_response(lambda answer: "/try?" in answer.url):
        press_in(installed.locator("#action_low_mm"), "ArrowRight")
    installed.wait_for_timeout(500)  # what is kept is kept after the answer was shown
    assert kept(installed).get("parts", []) == []


def test_what_is_sent_is_not_touched_by_the_worker(installed: Page, context: BrowserContext):
    context.set_offline(True)
    failed = installed.evaluate("fetch('/view', {method: 'POST'}).then(() => 'answered', () => 'failed')")
    assert failed == "failed"
    assert not [one for paths in kept(installed).values() for one in paths if one == "/view"]


def test_a_new_build_lets_the_old_files_go(installed: Page):
    names = [name for name in kept(installed) if name.startswith("files-")]
    assert len(names) == 1
    build = installed.evaluate("fetch('/sw.js').then((answer) => answer.text())").split('"')[1]
    assert names == [f"files-{build}"]
    files = set(kept(installed)[names[0]])
    used = installed.evaluate(USED)
    assert set(used) <= files
    assert "/offline" in files


@pytest.fixture
def network(tmp_path) -> Iterator[Served]:
    one = Served(tmp_path, ("--network", "--name", "127.0.0.2"))
    one.start()
    yield one
    one.stop()


def test_a_device_that_was_sent_away_keeps_no_page(chromium: Browser, network: Served):
    """127.0.0.2 is this machine under another name: a device of the network to the bench, secure to the browser."""
    context = chromium.new_context(locale="en-GB")
    page = context.new_page()
    there = f"http://127.0.0.2:{network.port}"
    page.goto(f"{there}/pair?code={code_for(network)}")
    page.get_by_label("A name for this device").fill("tablet")
    page.get_by_role("button", name="Pair").click()
    page.wait_for_url(f"{there}/")
    page.wait_for_function(READY)
    seen(page, f"{there}/instruments")
    context.clear_cookies(name=DEVICE_COOKIE)
    page.goto(f"{there}/shop")
    expect(page.get_by_role("heading", name="Pair this device")).to_be_visible()
    page.wait_for_function("async () => !(await caches.has('pages'))")
    network.kill()
    page.goto(f"{there}/instruments")
    expect(page.get_by_role("heading", name="The bench does not answer")).to_be_visible()
    context.close()
