"""Fixtures: `run` runs one command on a shop of either engine; `taken_in` is the example instrument taken in there."""

import json

import pytest

from breakangle.cli.main import main
from breakangle.services.service_files.example import example_text


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request, tmp_path, monkeypatch):
    """Return the data folder of a shop on the engine."""
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BREAKANGLE_WHO", "Ada")
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    if request.param == "postgresql":
        server = request.getfixturevalue("server")
        monkeypatch.setenv(
            "BREAKANGLE_DATABASE_URL", server.new_database(request.getfixturevalue("migrated"))
        )
    return tmp_path / "data"


@pytest.fixture
def run(capsys, place):
    """Return what runs one command and gives what it printed, holding it to its exit code."""
    del place

    def ran(*words: str, code: int = 0) -> str:
        assert main(list(words)) == code, capsys.readouterr().err
        said = capsys.readouterr()
        return str(said.err if code == 2 else said.out)

    return ran


@pytest.fixture
def taken_in(run, tmp_path) -> str:
    """Take the example instrument in, as sheet 1."""
    (tmp_path / "in.json").write_text(example_text(), encoding="utf-8")
    said = run("take-in", str(tmp_path / "in.json"), "--owner", "Åse Holm", "--complaint", "buzzes low down")
    assert said == f"Sheet 1: {json.loads(example_text())['instrument']['name']}, 27 new entries.\n"
    return "1"
