"""Fixtures: `served` is the app on a shop of the test's own, the example workshop beside it; `looked_at` is shared."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from breakangle.desk.shop_example import example_folder, load_example
from web_fixtures.process import Served


@pytest.fixture(scope="session")
def example_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an example workshop's folder, to copy."""
    folder = tmp_path_factory.mktemp("made")
    load_example(folder, datetime.now(UTC))
    return example_folder(folder)


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


@pytest.fixture(scope="session")
def looked_at(tmp_path_factory: pytest.TempPathFactory, example_made: Path) -> Iterator[Served]:
    """Return one app for all tests that only look, with the example workshop in it."""
    folder = tmp_path_factory.mktemp("looked_at")
    shutil.copytree(example_made, example_folder(folder))
    one = Served(folder)
    one.start()
    yield one
    one.stop()
