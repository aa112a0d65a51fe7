"""Closed visits, on both engines: nothing is written over what was signed, and a kept sheet stays as it is."""

import json
from hashlib import sha256

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from breakangle.model.errors import CorrectInputError
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.services.documents.hand_back.amend import leave_amendment, open_amendment
from breakangle.services.documents.hand_back.close import Closes, close_visit, gate_of
from breakangle.services.documents.hand_back.frozen import closed_told, closing_numbered, stored_sheet
from breakangle.services.documents.hand_back.gate import GateOpenError
from breakangle.services.documents.sheets import sheet_file
from breakangle.services.intake.take_in import change_arrival
from breakangle.services.intake.typed_arrival import ArrivalTyped
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.complaints import add_complaint
from breakangle.services.visits.entries import correct, do_adjustment, service_of, take_reading, undo
from breakangle.services.visits.left_out import leave_out
from breakangle.services.visits.moves import move_visit
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.typed_complaints import ComplaintTyped, complaint_typed
from breakangle.services.visits.used_parts import use_stock
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.prices import add_line
from breakangle.storage.backup.copies import make_backup, verified
from breakangle.storage.backup.examine import examine, mend
from breakangle.storage.exchange.exchange import export_shop, import_shop
from breakangle.storage.files.blobs import blob_path
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.records import Line, Stock, Visit
from breakangle.storage.schema.errors import EditedMeanwhileError, VisitClosedError
from shop_fixtures.people import ADA, later

pytest_plugins = ["shop_fixtures.shops"]
ROD = {"adjust": "rod", "turns": 0.125}
GAP = {"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": 1.7}


def reasons(shop, visit):
    return {one.key: "the owner wants it so" for one in gate_of(shop, visit)}


def closed(shop):
    """Return a visit that was read, worked on and closed."""
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    do_adjustment(shop, visit.id, ROD, later(minutes=10))
    visit = shop.get(Visit, visit.id)
    close_visit(shop, visit, later(minutes=60), Closes(reasons(shop, visit), "Ada Reed"))
    return shop.get(Visit, visit.id)


def written_to(shop, visit):
    """Return everything that would change what a sheet says, by name."""
    entry = entries_of(shop, visit.id)[0]
    stock = shop.every(Stock)[0]
    nut = adjustment_kinds()["nut-slot"].model.model_validate({"adjust": "nut-slot", "string": 3, "mm": -0.1})
    complaint = complaint_typed(ComplaintTyped("buzz"), service_of(shop, visit.id).instrument)
    late = later(days=2)
    return {
        "a reading": lambda: take_reading(shop, visit.id, GAP, late),
        "work": lambda: do_adjustment(shop, visit.id, ROD, late),
        "a correction": lambda: correct(shop, entry.id, None, "wrong", late),
        "an entry taken back": lambda: undo(shop, entry.id, late),
        "a step left out": lambda: leave_out(shop, visit, nut, late),
        "a line of the bill": lambda: add_line(shop, late, visit, "labour", "set-up", "65"),
        "strings used": lambda: use_stock(shop, visit, stock, 1, late),
        "a complaint": lambda: add_complaint(shop, visit, complaint, late),
        "the room": lambda: change_arrival(shop, visit, ArrivalTyped(humidity_percent="44"), late),
        "the owner's words": lambda: shop.change(visit, late, complaint="something else"),
        "words to the owner": lambda: shop.change(visit, late, owner_words="something else"),
        "its state": lambda: move_visit(shop, visit, "ready", late),
        "closing it again": lambda: close_visit(shop, visit, late, Closes(reasons(shop, visit), "Ada Reed")),
    }


def test_nothing_that_was_signed_is_written_over(shop):
    shop.add(Stock, ADA, words="a set", body="{}", held_count=3, least_count=1)
    visit = closed(shop)
    kept = sheet_file(shop, visit)
    for name, write in written_to(shop, visit).items():
        with pytest.raises(
            VisitClosedError, match=rf"sheet {visit.number} was closed on .*open an amendment first"
        ):
            write()
        assert name and shop.get(Visit, visit.id) == visit and sheet_file(shop, visit) == kept
    assert shop.every(Line, visit_id=visit.id) == ()
    assert shop.change(visit, later(days=1), notes="rang, happy").notes == "rang, happy"  # the shop's own
    with pytest.raises(DBAPIError), shop.engine.begin() as connection:
        connection.execute(text("UPDATE closing SET reason = 'none'"))  # whoever asks


def test_an_instrument_goes_back_only_with_every_question_answered(shop):
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    do_adjustment(shop, visit.id, {"adjust": "restring", "strings": [
        one.model_dump(mode="json", exclude_unset=True) for one in service_of(shop, visit.id).instrument.strings
    ]}, later(minutes=5))  # fmt: skip
    visit = shop.change(shop.get(Visit, visit.id), ADA, complaint="buzzes low down")
    asked = {one.key for one in gate_of(shop, visit)}
    assert {"words", "figures:action", "unsettled:unheard"} <= asked
    for key in asked:
        with pytest.raises(GateOpenError) as refused:
            close_visit(shop, visit, ADA, Closes(dict.fromkeys(asked - {key}, "because") | {key: " . "}))
        assert [one.key for one in refused.value.asked] == [key]
        assert shop.get(Visit, visit.id).closed_at is None
    told = dict.fromkeys(asked, "because of the season")
    with pytest.raises(CorrectInputError, match="nobody has signed"):
        close_visit(shop, visit, ADA, Closes(told, "  "))
    closing = close_visit(shop, visit, ADA, Closes(told, "Ada Reed"))
    kept = json.loads(closing.body)
    assert {one["key"] for one in kept["asked"]} == asked
    assert (
        kept["service"]["readings"] and kept["work"] and kept["expected"] and closing.signed_by == "Ada Reed"
    )
    assert stored_sheet(shop, closing, "txt").decode().count("Because of the season.") >= 3


def test_an_amendment_names_its_reason_and_both_sheets_stay(shop):
    visit = closed(shop)
    first = {form: sheet_file(shop, visit, form=form) for form in ("pdf", "html", "txt")}
    with pytest.raises(CorrectInputError, match="say what is amended"):
        open_amendment(shop, visit, " ", later(days=2))
    open_ = open_amendment(shop, visit, "action of string 6 was mistyped", later(days=2))
    assert leave_amendment(shop, open_, later(days=2)).closed_at == visit.closed_at  # nothing was written
    open_ = open_amendment(shop, shop.get(Visit, visit.id), "action of string 6 was mistyped", later(days=2))
    take_reading(shop, visit.id, GAP, later(days=2))
    with pytest.raises(CorrectInputError, match="something was amended"):
        leave_amendment(shop, shop.get(Visit, visit.id), later(days=2))
    open_ = shop.get(Visit, visit.id)
    close_visit(shop, open_, later(days=3), Closes(reasons(shop, open_), "Ada Reed"))
    visit = shop.get(Visit, visit.id)
    told = closed_told(shop, visit)
    assert [(one.number, one.reason) for one in told] == [(2, "action of string 6 was mistyped"), (1, "")]
    assert told[0].figures != told[1].figures
    for form, content in first.items():
        assert stored_sheet(shop, closing_numbered(shop, visit, 1), form) == content
    assert "Amended on" in sheet_file(shop, visit, form="txt").decode()
    assert "mistyped" in sheet_file(shop, visit, form="txt").decode()
    assert visit.handed_back_at == later(minutes=60).at  # it went back when it went back


def test_a_sheet_is_not_kept_of_what_somebody_changes_meanwhile(shop, monkeypatch):
    from breakangle.services.documents.hand_back import close

    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    given = Closes(reasons(shop, visit), "Ada Reed")
    made = close.fitting_pdf

    def meanwhile(*given):
        take_reading(shop, visit.id, GAP, later(minutes=60))
        return made(*given)

    monkeypatch.setattr(close, "fitting_pdf", meanwhile)
    with pytest.raises(EditedMeanwhileError):
        close_visit(shop, visit, ADA, given)
    assert closed_told(shop, visit) == () and shop.get(Visit, visit.id).closed_at is None


def test_the_kept_sheet_is_the_same_after_later_entries_and_everywhere_it_goes(shop, tmp_path):
    visit = closed(shop)
    kept = {form: sheet_file(shop, visit, form=form) for form in ("pdf", "html", "txt")}
    assert sha256(kept["pdf"]).hexdigest() == closed_told(shop, visit)[0].pdf_hash
    data = json.loads(example_text()) | {"room": {"humidity_percent": 61.0}}
    later_visit = bring_in(shop, json.dumps(data).encode(), "a file", later(days=300), same="1").visit
    do_adjustment(
        shop, later_visit.id, {"adjust": "rod", "turns": -0.5}, later(days=300)
    )  # it teaches the neck
    assert {form: sheet_file(shop, visit, form=form, on="letter") for form in kept} == kept
    backup = verified(make_backup(shop, later(days=365).at).path)
    assert backup.blobs == 2
    export_shop(shop, tmp_path / "shop.zip")
    other = shop_at(tmp_path / "other")
    import_shop(other, tmp_path / "shop.zip")
    there = other.get(Visit, visit.id)
    assert {form: sheet_file(other, there, form=form) for form in kept} == kept
    assert closed_told(other, there) == closed_told(shop, visit)
    with pytest.raises(VisitClosedError):
        take_reading(other, visit.id, GAP, later(days=400))
    other.close()


def test_doctor_misses_a_kept_sheet_and_never_sweeps_one_up(shop):
    visit = closed(shop)
    mend(shop)
    (told,) = closed_told(shop, visit)
    path = blob_path(shop.folder, told.pdf_hash)
    assert path.exists()
    path.unlink()
    assert any(
        f"sheet {visit.number}, closed 1" in one.what
        for one in examine(shop, later(days=1).at)
        if not one.well
    )
