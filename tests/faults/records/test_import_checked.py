"""A whole shop brought in: its rows are checked as if they had been typed; refused in one sentence."""

import json

import pytest

from bench.import_fuzz import filled_export, fuzz, made, with_row
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.records.import_checks import RowsRead
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.service_files import bring_in
from breakangle.services.workshop.attachments import attach, content_of
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.examine import mend
from breakangle.storage.exchange.exchange import import_shop
from breakangle.storage.records.records import Attachment, Owner, Visit
from shop_fixtures.people import ADA


@pytest.fixture(scope="module")
def parts(tmp_path_factory) -> dict[str, bytes]:
    return filled_export(tmp_path_factory.mktemp("from"))


def body(parts: dict[str, bytes], table: str, **changed: object) -> dict[str, object]:
    """Return a changed column `body` of the table's first row."""
    return {
        "body": json.dumps(json.loads(json.loads(parts[f"{table}.jsonl"].splitlines()[0])["body"]) | changed)
    }


@pytest.mark.parametrize(
    ("table", "changed"),
    [
        ("instrument", {"body": "{}"}),
        ("instrument", {"body": "garbage"}),
        ("instrument", {"kind": "harp of seventeen"}),
        ("visit", {"body": '{"format": "breakangle/service/1"}'}),
        ("visit", {"number": 10**30}),
        ("visit", {"number": 0}),
        ("visit", {"humidity_percent": float("inf")}),
        ("visit", {"opened_at": "0001-01-01T00:00:00.000000Z"}),
        ("visit", {"promised_on": "soon"}),
        ("entry", {"body": '{"quantity": "gap", "string": 99, "fret": 12, "mm": 1.0}'}),
        ("entry", {"body": '{"quantity": "gap", "string": 1, "fret": 12, "mm": 1e400}'}),
        ("entry", {"body": '{"quantity": "colour"}'}),
        ("price", {"amount": "NaN"}),
        ("price", {"amount": "1e999999"}),
        ("attachment", {"media_type": "audio/wav\r\nx: y"}),
        ("attachment", {"size_bytes": 2**70}),
        ("owner", {"id": "../../x"}),
        ("owner", {"version": 2**63}),
    ],
)
def test_row_that_cannot_be_read_back_is_refused_in_one_sentence(parts, tmp_path, table, changed):
    shop = shop_at(tmp_path / "to")
    path = made(tmp_path / "made.zip", with_row(parts, table, 0, changed))
    with pytest.raises(ChooseAnotherFileError) as error:
        import_shop(shop, path, RowsRead("made.zip"))
    assert "\n" not in str(error.value)
    assert "no whole-shop export, or is damaged" in str(error.value)
    assert shop.every(Owner) == ()
    assert shop.every(Visit) == ()
    assert list((tmp_path / "to").glob("blobs/*/*")) == []
    shop.close()


def test_string_that_a_visit_does_not_have_is_named(parts, tmp_path):
    shop = shop_at(tmp_path / "to")
    gap = '{"quantity": "gap", "string": 7, "fret": 12, "mm": 1.0}'
    with pytest.raises(ChooseAnotherFileError, match=r"sheet 1: .*string.* 7"):
        import_shop(
            shop,
            made(tmp_path / "made.zip", with_row(parts, "entry", 0, {"body": gap})),
            RowsRead("made.zip"),
        )
    shop.close()


def test_export_made_by_this_program_comes_in_whole(parts, tmp_path):
    shop = shop_at(tmp_path / "to")
    import_shop(shop, made(tmp_path / "made.zip", parts), RowsRead("made.zip"))
    assert len(shop.every(Visit)) == 2
    shop.close()


def just_before_it_is_stored(monkeypatch, shop, happens) -> None:
    """Let something happen when an import has unpacked its files, and has not yet begun to store."""
    real = shop.writing

    def writing():
        monkeypatch.undo()
        happens()
        return real()

    monkeypatch.setattr(shop, "writing", writing)


def test_files_that_a_sweep_took_while_they_were_unpacked_are_unpacked_again(parts, tmp_path, monkeypatch):
    shop = shop_at(tmp_path / "to")
    swept: list[int] = []
    just_before_it_is_stored(monkeypatch, shop, lambda: swept.append(mend(shop)))
    import_shop(shop, made(tmp_path / "made.zip", parts), RowsRead("made.zip"))
    assert swept == [1]
    assert [content_of(shop, one)[:4] for one in shop.every(Attachment)] == [b"\x89PNG"]
    shop.close()


def test_what_was_attached_meanwhile_stays_where_the_import_of_the_same_file_fails(
    parts, tmp_path, monkeypatch
):
    shop = shop_at(tmp_path / "to")
    content = next(content for name, content in parts.items() if name.startswith("blobs/"))
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    just_before_it_is_stored(
        monkeypatch, shop, lambda: attach(shop, ADA, visit, "photograph", "mine.png", content)
    )
    wrong = with_row(parts, "visit", 0, {"instrument_id": "nobody's"})
    with pytest.raises(ChooseAnotherFileError):
        import_shop(shop, made(tmp_path / "made.zip", wrong))
    assert [content_of(shop, one) for one in shop.every(Attachment)] == [content]
    shop.close()


def test_mutated_exports_and_service_files_leave_nothing_unreadable(tmp_path):
    """`python -m bench import_fuzz` does 2,000; another seed here, so that the two do not try the same."""
    result = fuzz(24, seed=7, folder=tmp_path)
    assert result.tracebacks == []
    assert result.unreadable == []
    assert result.refused > 8
    assert result.taken > 1
