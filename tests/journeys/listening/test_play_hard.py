"""A player's light, medium and heavy: a dozen plucks heard, stored with who and when, and used from then on."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile

from breakangle.cli.main import main
from breakangle.model.errors import ReadAgainError
from breakangle.model.playing import PlayedStrengths
from breakangle.reference.strength import played, playing
from breakangle.services.listening import kept_strengths
from breakangle.services.listening.kept_strengths import keep_strengths, strengths_heard
from breakangle.services.listening.recordings import Named, keep_recordings
from breakangle.services.listening.strokes import strengths_of
from breakangle.services.service_files.buzz import playing_of
from breakangle.services.service_files.example import example_service, example_text
from breakangle.services.visits.entries import service_of
from breakangle.services.visits.visits import add_instrument, instrument_of, open_visit, visit_numbered
from breakangle.storage.schema.errors import ShopOutOfReachError
from listening_fixtures.dozen import POINT, RATE_HZ, STRING, WHOLE_MM, dozen
from shop_fixtures.people import ADA

pytest_plugins = ["shop_fixtures.shops"]


@pytest.fixture(scope="module")
def recording(tmp_path_factory) -> Path:
    """Return a recording of nine plucks of the example's string 4: three at each of three heights."""
    path = tmp_path_factory.mktemp("dozen") / "dozen.wav"
    soundfile.write(path, dozen(), RATE_HZ, subtype="PCM_24")
    return path


def test_a_dozen_plucks_become_strengths_that_everything_counts_with(recording, tmp_path, capsys):
    file = tmp_path / "service.json"
    file.write_text(example_text(), encoding="utf-8")
    words = [
        "listen",
        str(recording),
        "--string",
        str(STRING),
        "--add-to",
        str(file),
        "--calibrate",
        "Ada",
        "--json",
    ]
    assert main(words) == 0
    told = json.loads(capsys.readouterr().out)
    own = json.loads(file.read_text(encoding="utf-8"))["instrument"]["playing"]
    assert told["playing"] == own | {"release": "away"}
    assert (own["who"], len(told["plucks"])) == ("Ada", 9)
    for name, whole in zip(("light", "medium", "heavy"), WHOLE_MM, strict=True):
        assert own[f"{name}_mm"] == pytest.approx(0.2 * whole, rel=0.2), (
            "0.2 of it toward the board: the table's"
        )
    assert own["spread_ratio"] >= 0.5, "the angle of release is not heard"
    assert own["pluck_from_saddle_mm"] == pytest.approx(POINT * 648, abs=20)
    from breakangle.cli.render.entry import service_in

    service = service_in(str(file), quiet=True)
    how = playing_of(service, None)
    assert how.own
    assert how.strengths.medium_mm == own["medium_mm"]
    assert "Ada" in how.strengths.source
    assert played(example_service().instrument) == playing(example_service().instrument.kind)


def test_a_pluck_is_told_in_the_table(recording, tmp_path, capsys):
    file = tmp_path / "service.json"
    file.write_text(example_text(), encoding="utf-8")
    assert main(["listen", str(recording), "--string", str(STRING), "--instrument", str(file)]) == 0
    rows = [line.split() for line in capsys.readouterr().out.splitlines() if "string 4, open" in line]
    assert len(rows) == 9
    assert all(
        abs(float(row[-2]) - whole) <= 0.35 for row, whole in zip(rows, np.repeat(WHOLE_MM, 3), strict=True)
    )


def test_plucks_that_do_not_rise_or_are_too_few_are_refused(recording):
    from breakangle.services.listening.takes import listen_to

    service = example_service()
    strokes = [one.stroke for one in listen_to([recording], service, STRING).takes]
    with pytest.raises(ReadAgainError, match="light below medium below heavy"):
        strengths_of(strokes[::-1], service, "Ada", "2027-03-01")
    with pytest.raises(ReadAgainError, match="at least 3 of each"):
        strengths_of([None, *strokes[1:]], service, "Ada", "2027-03-01")


def test_strengths_stay_with_the_instrument_and_the_shop(shop, recording):
    service = example_service()
    record = add_instrument(shop, ADA, service.instrument)
    visit = open_visit(shop, ADA, record)
    kept = keep_recordings(shop, visit, ADA, [Named("dozen.wav", recording.read_bytes())])
    found = strengths_heard(shop, visit, kept, "Ada", ADA)
    keep_strengths(shop, visit, found, ADA, for_shop=True)
    assert service_of(shop, visit.id).instrument.playing == found
    assert instrument_of(shop.every(type(record))[0]).playing == found
    other = open_visit(
        shop, ADA, add_instrument(shop, ADA, service.instrument.model_copy(update={"name": "Two"}))
    )
    own = service_of(shop, visit_numbered(shop, other.number).id).instrument.playing
    assert own is not None
    assert (own.who, own.medium_mm) == ("Ada", found.medium_mm)


def test_strengths_are_stored_for_both_or_for_neither(shop, monkeypatch):
    """What is kept for the shop belongs to what is kept for the instrument: where it cannot be stored, neither is."""
    record = add_instrument(shop, ADA, example_service().instrument)
    visit = open_visit(shop, ADA, record)

    def full(*_: object) -> None:
        raise ShopOutOfReachError("the disk is full", "nothing was stored", "make room")

    monkeypatch.setattr(kept_strengths, "keep_house_strengths", full)
    heights = {"light_mm": 1.0, "medium_mm": 2.0, "heavy_mm": 3.0, "pluck_from_saddle_mm": 120.0}
    found = PlayedStrengths(**heights, who="Ada", day="2027-03-01")
    with pytest.raises(ShopOutOfReachError):
        keep_strengths(shop, visit, found, ADA, for_shop=True)
    assert shop.every(type(record))[0] == record
    assert service_of(shop, visit.id).instrument.playing is None
