"""A closed sheet a year later, after later entries, a backup put back and an upgrade: the same bytes, the same figures.

On both engines, on the screen too; an amendment shows both sheets.
"""

import re
from datetime import timedelta

import pytest
from sqlalchemy import text
from starlette.testclient import TestClient

from breakangle.documents.renderers import page_html, page_pdf
from breakangle.services.documents.hand_back.amend import open_amendment
from breakangle.services.documents.hand_back.close import Closes, close_visit, gate_of
from breakangle.services.documents.hand_back.frozen import closed_told, closings_of, stored_sheet
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import do_adjustment, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import open_visit
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.copies import make_backup
from breakangle.storage.backup.restoring import restore_backup, restore_on_server
from breakangle.storage.connection.opening import head
from breakangle.storage.records.records import InstrumentRecord, Visit
from shop_fixtures.people import ADA, GAP, ROD, START, later
from web_fixtures.opened import workshop_of

pytest_plugins = ["shop_fixtures.shops", "web_fixtures.at_hand"]
FORMS = ("pdf", "html", "txt")
# What the ninth schema added, taken away again: the records as the eighth had them.
AS_EIGHTH = (
    "ALTER TABLE attachment DROP COLUMN pair_id",
    "ALTER TABLE entry DROP COLUMN entered_at",
    "ALTER TABLE device DROP COLUMN person",
    "UPDATE alembic_version SET version_num = '0008'",
)


def closed(shop, stamp, signed: str) -> None:
    visit = shop.every(Visit)[0]
    answers = {one.key: "the owner wants it so" for one in gate_of(shop, visit)}
    close_visit(shop, visit, stamp, Closes(answers, signed))


def sheets(shop) -> list[list[bytes]]:
    """Return every sheet that was ever kept of the first visit, in every form, the first one first."""
    visit = shop.every(Visit)[0]
    return [[stored_sheet(shop, one, form) for form in FORMS] for one in closings_of(shop, visit)]


def a_year_of_work(shop) -> None:
    """Bring the instrument in again, read it, turn its rod, and close nothing."""
    record = shop.get(InstrumentRecord, shop.every(Visit)[0].instrument_id)
    again = open_visit(shop, later(days=365), record, "buzzes again")
    take_reading(shop, again.id, GAP, later(days=365, minutes=1))
    do_adjustment(shop, again.id, ROD, later(days=365, minutes=2))


def put_back(shop, backup) -> None:
    at = START + timedelta(days=366)
    if shop.is_file:
        shop.close()
        restore_backup(shop.folder, backup.path, at)
    else:
        restore_on_server(shop, backup.path, at)


def upgraded(shop):
    """Return the shop opened by this program after it stood in the schema of an earlier one."""
    place, folder = shop.place, shop.folder
    with shop.engine.connect().execution_options(writes=True) as connection, connection.begin():
        for statement in AS_EIGHTH:
            connection.execute(text(statement))
    shop.close()
    opened = shop_at(folder, None if shop.is_file else place)
    with opened.reading() as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one() == head()
    return opened


def test_the_sheet_is_handed_out_the_same_a_year_later(shop, monkeypatch: pytest.MonkeyPatch):
    bring_in(shop, example_text().encode(), "a file", ADA)
    do_adjustment(shop, shop.every(Visit)[0].id, ROD, later(minutes=5))
    closed(shop, later(minutes=60), "Ada Reed")
    first, told = sheets(shop), closed_told(shop, shop.every(Visit)[0])
    a_year_of_work(shop)
    put_back(shop, make_backup(shop, START + timedelta(days=366)))
    shop = upgraded(shop_at(shop.folder, None if shop.is_file else shop.place))
    # Whatever a later version would print: what was kept is handed out, and nothing is printed again.
    for module, name in ((page_pdf, "page_pdf"), (page_html, "page_html")):
        monkeypatch.setattr(module, name, lambda *_, **__: pytest.fail("the sheet was printed again"))
    assert sheets(shop) == first
    assert closed_told(shop, shop.every(Visit)[0]) == told
    assert told[0].figures
    monkeypatch.undo()
    visit = shop.every(Visit)[0]
    visit = open_amendment(shop, visit, "the action was read at the wrong fret", later(days=370))
    take_reading(shop, visit.id, GAP | {"mm": 1.6}, later(days=370, minutes=1))
    closed(shop, later(days=370, minutes=2), "Bo")
    both = sheets(shop)
    assert both[0] == first[0]
    assert len(both) == 2
    assert both[1][0] != both[0][0]
    amended = closed_told(shop, shop.every(Visit)[0])
    assert amended[1:] == told
    assert (amended[0].reason, amended[0].signed_by) == ("the action was read at the wrong fret", "Bo")
    shop.close()


def test_the_page_shows_the_same_figures_and_both_sheets(first_sheet: TestClient):
    shop = workshop_of(first_sheet).shop()
    closed(shop, later(minutes=60), "Ada Reed")
    first = figures(first_sheet)
    file = first_sheet.get("/visits/1/closed/1.pdf").content
    a_year_of_work(shop)
    assert figures(first_sheet) == first
    visit = open_amendment(shop, shop.every(Visit)[0], "one figure was misread", later(days=370))
    take_reading(shop, visit.id, GAP | {"mm": 1.2}, later(days=370, minutes=1))
    closed(shop, later(days=370, minutes=2), "Bo")
    both = figures(first_sheet)
    assert (len(first), len(both)) == (1, 2)
    assert both[1:] == first
    assert both[0] != first[0]
    assert "one figure was misread" in first_sheet.get("/visits/1").text
    assert first_sheet.get("/visits/1/closed/1.pdf").content == file
    assert first_sheet.get("/visits/1/closed/2.pdf").content != file


def figures(bench: TestClient) -> list[str]:
    """Return the tables of figures of the closings as the page shows them, the last closing first."""
    shown = bench.get("/visits/1").text
    closings = shown[shown.index('id="closed"') :].split('class="step')[1:]
    return [re.search(r"<tbody>.*?</tbody>", one, re.DOTALL)[0] for one in closings]
