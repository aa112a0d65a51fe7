"""A name or number that no record can have is said as of any other that is not there, on both engines."""

import warnings

import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import visit_numbered
from breakangle.storage.records.store import TABLE_OF
from breakangle.storage.schema.errors import NoSuchRecordError
from breakangle.web.app import make_app
from breakangle.web.options import Options
from shop_fixtures.people import ADA

pytest_plugins = ["shop_fixtures.shops"]


@pytest.mark.parametrize("key", ["\0", "01K\0", "\ud800", "", "x" * 5000])
def test_a_name_that_cannot_be_stored_is_the_name_of_no_record(shop, key):
    for kind in TABLE_OF:
        with pytest.raises(NoSuchRecordError, match="is not in this shop") as told:
            shop.get(kind, key)
        str(told.value).encode()
        assert "\0" not in str(told.value)


@pytest.mark.parametrize("number", [-(2**31) - 1, -1, 0, 1, 2**31 - 1, 2**31, 10**20])
def test_no_sheet_carries_a_number_that_was_not_given(shop, number):
    with pytest.raises(NoSuchRecordError, match=f"no sheet {number}"):
        visit_numbered(shop, number)


@pytest.mark.parametrize("verb", ["bill", "visit", "timeline"])
def test_a_command_says_of_a_number_too_long_what_it_says_of_any(verb, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path))
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    assert main([verb, "9" * 20]) == 2
    assert f"there is no sheet {'9' * 20}" in capsys.readouterr().err


PATHS = (
    "/instruments/%00", "/attachments/%00", "/attachments/%00/small", "/visits/1/entries/%00", "/visits/1/steps/%00",
    "/visits/new?instrument=%00", "/shop/procedures/%00",
)  # fmt: skip
FORMS = (
    ("/shop/lists/stock/%00", {"words": "a", "seen": "1"}), ("/shop/lists/owner/%00", {"name": "a", "seen": "1"}),
    ("/visits/1/lines/%00/drop", {"version": "1"}), ("/visits/1/strings", {"stock": "\0"}),
    ("/visits/new", {"instrument": "\0"}), ("/visits/1/plan/undo", {"entry": "\0"}),
)  # fmt: skip


def test_no_page_breaks_at_a_name_that_cannot_be_stored(shop):
    bring_in(shop, example_text().encode(), "a file", ADA)
    url = None if shop.is_file else str(shop.place)
    app = make_app(Options(shop.folder, port=8320, database_url=url))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        here = TestClient(app, base_url="http://127.0.0.1:8320", client=("127.0.0.1", 5000), follow_redirects=False,
                          raise_server_exceptions=False)  # fmt: skip
        found = {path: here.get(path).status_code for path in PATHS}
        found |= {path: here.post(path, data=form).status_code for path, form in FORMS}
    app.state.workshop.close()
    assert {path: status for path, status in found.items() if status not in (404, 422)} == {}
