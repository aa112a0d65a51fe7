"""Devices on the command line: a code is made, the device that used it is listed, and sent away."""

import re
from datetime import UTC, datetime

import pytest

from breakangle.cli.main import main
from breakangle.services.workshop.devices import device_of, pair_device
from breakangle.services.workshop.opening import shop_at


@pytest.fixture
def folder(tmp_path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path))
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    return tmp_path


def test_a_device_is_let_in_listed_and_sent_away(folder, capsys: pytest.CaptureFixture[str]):
    assert main(["devices"]) == 0
    assert "No device is paired" in capsys.readouterr().out
    assert main(["devices", "--code", "read-only"]) == 0
    (code,) = re.findall(r": ([A-Z0-9]{8})$", capsys.readouterr().out.strip())
    shop = shop_at(folder)
    _, token = pair_device(shop, code, "tablet by the window", datetime.now(UTC))
    assert main(["devices"]) == 0
    told = capsys.readouterr().out
    assert "read-only" in told
    assert "tablet by the window" in told
    assert main(["devices", "--revoke", "tablet by the window"]) == 0
    assert "is let in no more" in capsys.readouterr().out
    assert device_of(shop, token, datetime.now(UTC)) is None
    shop.close()


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["devices", "--code", "boss"], "one of owner, bench, read-only"),
        (["devices", "--revoke", "nobody's"], "no device is called"),
        (["serve", "--secure"], "add --network"),
        (["serve", "--name", "bench.local"], "add --network"),
        (["serve", "--port", "70000"], "from 1 to 65534"),
    ],
)
def test_what_cannot_be_is_told(words: list[str], told: str, capsys: pytest.CaptureFixture[str]):
    assert main(words) == 2
    assert told in capsys.readouterr().err
