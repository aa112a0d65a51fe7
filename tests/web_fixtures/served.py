"""Fixtures: `served` is the app on a shop of the test's own, the example workshop beside it; `looked_at` is shared.

`empty_shop` has no example beside it and starts sooner.
"""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from breakangle.services.example_workshop.workshop import example_folder, load_example
from made_once import made_once, shared_folder
from network_fixtures import closed_environment
from web_fixtures.process import Served


def example_in(shared: Path) -> Path:
    """Make an example workshop in a folder of all workers and return its own; what a worker that failed left goes."""
    folder = shared / "example_made"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    load_example(folder, datetime.now(UTC))
    return example_folder(folder)


@pytest.fixture(scope="session")
def example_made(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """Return an example workshop's folder, to copy."""
    shared = shared_folder(tmp_path_factory, worker_id)
    return made_once(shared, "example", lambda: example_in(shared))


@pytest.fixture
def served(tmp_path: Path, example_made: Path) -> Iterator[Served]:
    """Return the app on a shop that is this test's own, with the example workshop beside it."""
    folder = tmp_path / "shop"
    folder.mkdir()
    shutil.copytree(example_made, example_folder(folder))
    one = Served(folder)
    one.start()
    yield one
    one.stop()


@pytest.fixture
def empty_shop(tmp_path: Path) -> Iterator[Served]:
    """Return the app on an empty shop, with nothing beside it."""
    one = Served(tmp_path)
    one.start()
    yield one
    one.stop()


@pytest.fixture(scope="session")
def looked_at(tmp_path_factory: pytest.TempPathFactory, example_made: Path) -> Iterator[Served]:
    """Return one app for all tests that only look, with the example workshop in it; it connects nowhere outside."""
    folder = tmp_path_factory.mktemp("looked_at")
    tried = tmp_path_factory.mktemp("network") / "tried"
    shutil.copytree(example_made, example_folder(folder))
    one = Served(folder, environment=closed_environment(tried))
    one.start()
    yield one
    one.stop()
    assert not tried.exists(), tried.read_text(encoding="utf-8")
