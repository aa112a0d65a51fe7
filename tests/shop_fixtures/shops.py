"""Fixtures: `shop` is one test's own shop, on either engine; `server` is the server of the whole run."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from breakangle.services.workshop.opening import FILE_NAME, shop_at
from breakangle.storage.connection.opening import engine_for, migrate
from breakangle.storage.records.store import Shop
from shop_fixtures.server import Server, server_or_skip

ENGINES = ("sqlite", "postgresql")


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    made = server_or_skip()
    yield made
    made.remove()


@pytest.fixture(scope="session")
def migrated(server: Server) -> str:
    """Return the name of a database with the schema in it, to copy."""
    server.statement("CREATE DATABASE migrated")
    engine = engine_for(server.url("migrated"))
    migrate(engine)
    engine.dispose()
    return "migrated"


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a file with the schema in it, to copy: making it costs six times as much as opening it."""
    path = tmp_path_factory.mktemp("migrated") / FILE_NAME
    engine = engine_for(path)
    migrate(engine)
    engine.dispose()
    return path


@pytest.fixture(params=ENGINES)
def new_shop(request: pytest.FixtureRequest, tmp_path: Path, migrated_file: Path) -> Iterator[object]:
    """Return what opens a new empty shop on the engine; each is closed when the test ends."""
    opened: list[Shop] = []

    def make(name: str = "shop") -> Shop:
        url = None
        if request.param == "postgresql":
            found: Server = request.getfixturevalue("server")
            url = found.new_database(request.getfixturevalue("migrated"))
        elif not (tmp_path / name / FILE_NAME).exists():
            (tmp_path / name).mkdir(mode=0o700, exist_ok=True)
            shutil.copy(migrated_file, tmp_path / name / FILE_NAME)
        opened.append(shop_at(tmp_path / name, url))
        return opened[-1]

    yield make
    for one in opened:
        one.close()


@pytest.fixture
def shop(new_shop) -> Shop:  # type: ignore[no-untyped-def]
    made: Shop = new_shop()
    return made
