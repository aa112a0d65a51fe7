"""Fixtures: `bench` is the app without a server, on a shop of the test's own; for what needs no browser."""

import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from breakangle.services.service_files.example import example_text
from breakangle.web.app import make_app
from breakangle.web.options import Options
from web_fixtures.opened import workshop_of


@pytest.fixture(scope="session")
def app_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Return one app for all tests, its forms built: some versions of the libraries warn while they build them."""
    app = make_app(Options(tmp_path_factory.mktemp("at_hand"), port=8320))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with TestClient(app, base_url="http://127.0.0.1:8320", client=("127.0.0.1", 5000)) as client:
            yield client


@pytest.fixture
def bench(app_once: TestClient, tmp_path: Path) -> TestClient:
    """Return the app on a shop that is this test's own."""
    workshop_of(app_once).replaced(lambda: setattr(workshop_of(app_once), "folder", tmp_path))
    app_once.cookies.clear()
    app_once.headers["accept-language"] = "en"
    return app_once


@pytest.fixture
def first_sheet(bench: TestClient) -> TestClient:
    """Return the app with sheet 1 in it, of the example service file."""
    sent = bench.post("/visits/new/import", files={"file": ("heron.json", example_text().encode())})
    assert sent.url.path == "/visits/1"
    return bench
