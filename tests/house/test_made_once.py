"""What all workers of the tests share: one that fails to make it is told by its own error, by every worker."""

from pathlib import Path

import pytest

from breakangle.services.example_workshop.workshop import example_folder
from made_once import made_once
from web_fixtures import served


def test_a_maker_that_failed_half_way_hides_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def broken(folder: Path, now: object) -> None:
        del now
        (folder / "half").touch()
        raise ValueError("the shop is broken")

    monkeypatch.setattr(served, "load_example", broken)
    for _ in range(2):
        with pytest.raises(ValueError, match="the shop is broken"):
            made_once(tmp_path, "example", lambda: served.example_in(tmp_path))
    monkeypatch.setattr(served, "load_example", lambda *_: None)
    made = made_once(tmp_path, "example", lambda: served.example_in(tmp_path))
    assert made == example_folder(tmp_path / "example_made")
    assert not (tmp_path / "example_made" / "half").exists()
