"""Many sheets: broken off and gone on with, from the command line, and with a bar."""

import pytest

from breakangle.cli.main import main
from breakangle.services.documents.batch import Batch, sheets_into, visits_of
from breakangle.services.documents.sheets import sheet_name
from breakangle.services.visits.visits import open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.records import InstrumentRecord
from paper_fixtures.visits import headed_shop, visit_with
from shop_fixtures.people import ADA


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    yield from headed_shop(tmp_path_factory.mktemp("paper"))


@pytest.fixture(scope="module")
def visit(shop):
    made = visit_with(shop)
    for _ in range(2):
        open_visit(shop, ADA, shop.get(InstrumentRecord, made.instrument_id))
    return made


def test_a_batch_that_was_broken_off_goes_on_where_it_was(shop, visit, tmp_path):
    visits, batch = visits_of(shop), Batch(pictures=False)
    assert visit.number in [one.number for one in visits]
    first = next(sheets_into(shop, tmp_path, visits, batch))
    assert first.state == "made"
    assert first.path.name == sheet_name(first.visit)
    with (tmp_path / "made.txt").open("a") as file:
        file.write("\nhand-back-0000")  # the line that was being written
    before = first.path.stat().st_mtime_ns
    rest = list(sheets_into(shop, tmp_path, visits, batch))
    assert [one.state for one in rest] == ["unchanged"] + ["made"] * (len(visits) - 1)
    assert first.path.stat().st_mtime_ns == before
    assert [one.state for one in sheets_into(shop, tmp_path, visits, batch)] == ["unchanged"] * len(visits)
    again = shop.change(visits[-1], ADA, complaint="rattles")
    try:
        states = [one.state for one in sheets_into(shop, tmp_path, visits_of(shop), batch)]
        assert states == ["unchanged"] * (len(visits) - 1) + ["made"]
    finally:
        shop.change(again, ADA, complaint="")
    assert not list(tmp_path.glob(".unfinished-*"))


def test_the_command_line_makes_sheets_labels_and_templates(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "data"))
    made = shop_at(tmp_path / "data")
    visit_with(made)
    made.close()
    monkeypatch.chdir(tmp_path)
    assert main(["heading", "--name", "Quill", "--line", "Mill Lane", "--who", "Ada"]) == 0
    assert main(["report", "1", "--out", "one.pdf"]) == 0
    assert main(["report", "--all", "--form", "html", "--out", "sheets"]) == 0
    assert main(["label", "1", "--single"]) == 0
    assert main(["template", "nut-slots", "--visit", "1", "--form", "dxf"]) == 0
    assert (
        main(["template", "radius-gauges", "--family", "mandolin", "--out", "gauge.svg", "--form", "svg"])
        == 0
    )
    assert main(["template"]) == 0
    assert main(["template", "--measured", "94.1 mm"]) == 1
    assert (tmp_path / "one.pdf").read_bytes().startswith(b"%PDF-1.7")
    assert b"Quill" in (tmp_path / "sheets" / "hand-back-000001.html").read_bytes()
    for name in ("labels.pdf", "nut-slots.dxf", "gauge.svg"):
        assert (tmp_path / name).stat().st_size > 1000
    assert "1 made, 0 unchanged, 0 refused of 1" in capsys.readouterr().out
    for wrong in ("report", "report --all", "report 9", "template x --family mandolin", "template nut-slots", "label x",
                  "report 1 --out no/such/place.pdf"):  # fmt: skip
        assert main(wrong.split()) == 2
        assert "Traceback" not in capsys.readouterr().err


def test_control_c_breaks_a_batch_off_between_two_sheets(tmp_path, monkeypatch, capsys):
    from breakangle.services.documents import batch as report_batch

    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "data"))
    made = shop_at(tmp_path / "data")
    visit_with(made, name="One")
    visit_with(made, name="Two")
    made.close()
    real, calls = report_batch.sheet_file, []

    def broken_off(*given):
        if calls:
            raise KeyboardInterrupt
        calls.append(given)
        return real(*given)

    monkeypatch.setattr(report_batch, "sheet_file", broken_off)
    arguments = ["report", "--all", "--out", str(tmp_path / "out"), "--without-pictures"]
    assert main(arguments) == 130
    assert "Broken off: the same command goes on from here." in capsys.readouterr().out
    monkeypatch.setattr(report_batch, "sheet_file", real)
    assert main(arguments) == 0
    assert "1 made, 1 unchanged" in capsys.readouterr().out


def test_a_bar_shows_how_far_a_batch_is_and_changes_nothing_of_it(capsys):
    from breakangle.cli.render.paper import shown_progress

    assert list(shown_progress(iter("abc"), 3, "sheets")) == ["a", "b", "c"]
    assert capsys.readouterr().err.strip() == ""  # nobody looks: nothing is drawn


def test_where_a_person_looks_the_bar_counts_the_sheets(monkeypatch, capsys):
    from breakangle.cli.render.paper import shown_progress

    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TTY_COMPATIBLE", "1")
    monkeypatch.setenv("COLUMNS", "80")
    assert list(shown_progress(iter("abc"), 3, "sheets")) == ["a", "b", "c"]
    assert "3/3" in capsys.readouterr().err
