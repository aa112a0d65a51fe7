"""Rows that come in are read as the pages will read them, before anything is stored: what cannot be read is refused."""

import json
import re
from collections.abc import Callable, Iterable
from datetime import date
from itertools import chain
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Connection

from breakangle.model.errors import BreakangleError, ChooseAnotherFileError, CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.playing import PlayedStrengths
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.registry import adjustment_kinds, reading_kinds
from breakangle.procedures.shelf import procedure_from
from breakangle.procedures.way import Way
from breakangle.reference.families import HANDS
from breakangle.services.service_files.checks import is_kind_key
from breakangle.services.service_files.kinds.copied import checked_table
from breakangle.services.service_files.service import service_from
from breakangle.services.strings.stock import string_stock_from
from breakangle.services.visits.instrument_identity.joining import JOINED, MOMENT, TAKEN_OVER
from breakangle.services.visits.left_out import PLAN_RUN
from breakangle.services.visits.parsed_sheets import READING, service_data
from breakangle.services.visits.reading_places import place_of
from breakangle.services.workshop.house_strengths import NAME as STRENGTHS
from breakangle.services.workshop.kinds import NAME as KIND
from breakangle.storage.records.entries import all_entries, standing
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import one_record

Row = dict[str, Any]
NAME = re.compile(r"[\w.: -]{1,200}", re.ASCII)
MEDIA = re.compile(r"[a-z]+/[a-z0-9.+-]+")
HASH = re.compile(r"[0-9a-f]{64}")
HOUSE = "house_targets:"
COLUMNS = {"body", "notes", MOMENT, *TAKEN_OVER}
UNREADABLE = (
    BreakangleError, ValidationError, ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError,
    RecursionError,
)  # fmt: skip


class RowsRead:
    """Reads every row of an export as it comes, then every visit as it stands."""

    def __init__(self, source: str) -> None:
        """Begin with none; `source` is what the file is called in a complaint."""
        self._source, self._visits = source, dict[str, None]()

    def row(self, table: str, row: Row) -> None:
        """Read one row.

        Raises:
            ChooseAnotherFileError: this program could not read it back.
        """
        try:
            _named(row)
            READ.get(table, _nothing)(row)
            if table == "visit":
                self._visits[row["id"]] = None
            if table == "entry":
                self._visits[row["visit_id"]] = None
        except UNREADABLE as cause:
            raise self._refused(f"{table} {str(row.get('id'))[:40]}", cause) from cause

    def whole(self, connection: Connection) -> None:
        """Read every visit that the rows were about, as it stands now.

        Raises:
            ChooseAnotherFileError: what was read or done does not fit its instrument.
        """
        for key in self._visits:
            visit = one_record(connection, Visit, key, deleted=True)
            try:
                data = service_data(visit, standing(all_entries(connection, key)))
                service_from(json.dumps(data).encode(), tr("sheet {visit_number}", visit_number=visit.number))
            except UNREADABLE as cause:
                raise self._refused(tr("sheet {visit_number}", visit_number=visit.number), cause) from cause

    def _refused(self, what: str, cause: Exception) -> ChooseAnotherFileError:
        said = cause.given if isinstance(cause, BreakangleError) else tr("it is not what this program writes")
        given = tr(
            "{source} is no whole-shop export, or is damaged: {what}: {said}",
            source=self._source,
            what=what,
            said=" ".join(said.split())[:300],
        )
        return ChooseAnotherFileError(given, tr("nothing was added"), tr("name another"))


def _wrong(name: str) -> CorrectInputError:
    return CorrectInputError(tr("{name} is not what this program writes", name=name))


def _nothing(row: Row) -> None:
    del row


def _named(row: Row) -> None:
    for name, value in row.items():
        if (name == "id" or name.endswith("_id")) and value is not None and not NAME.fullmatch(value):
            raise _wrong(name)


def _hand(row: Row) -> None:
    if row.get("hand") not in (None, *HANDS):
        raise _wrong("hand")


def _instrument(row: Row) -> None:
    _hand(row)
    instrument = Instrument.model_validate_json(row["body"])
    targets = json.loads(row["targets"] or "null")
    service: Row = {"format": "breakangle/service/1", "instrument": json.loads(row["body"])}
    service_from(
        json.dumps(service | ({} if targets is None else {"targets": targets})).encode(), tr("its file")
    )
    if row["kind"] != instrument.kind:
        raise _wrong("kind")


def _visit(row: Row) -> None:
    service_from(json.dumps(json.loads(row["body"]) | {"readings": [], "work": []}).encode(), tr("its file"))
    if row.get("promised_on") is not None:
        date.fromisoformat(row["promised_on"])
    if row["number"] < 1:
        raise _wrong("number")
    for name, least, most in (("humidity_percent", 1.0, 100.0), ("temperature_c", -10.0, 50.0)):
        if row.get(name) is not None and not least <= row[name] <= most:
            raise _wrong(name)


def _entry(row: Row) -> None:
    if row["body"] is None:
        return
    body = json.loads(row["body"])
    if row["kind"] == READING:
        place_of(reading_kinds()[body["quantity"]].model.model_validate_json(row["body"]))
    else:
        adjustment_kinds()[body["adjust"]].model.model_validate_json(row["body"])


def _stock(row: Row) -> None:
    body = json.loads(row["body"] or "{}")
    if isinstance(body, dict) and body.get("kind") in ("pack", "single"):
        string_stock_from(body, row["words"])


def _run(row: Row) -> None:
    if row["procedure"] != PLAN_RUN:
        Way.model_validate_json(row["body"])
        return
    for left in json.loads(row["body"])["left_out"]:
        adjustment_kinds()[left["adjust"]].model.model_validate(left)


def _procedure(row: Row) -> None:
    procedure_from(json.loads(row["body"]), row["name"])


def _attachment(row: Row) -> None:
    if not MEDIA.fullmatch(row["media_type"]) or not HASH.fullmatch(row["hash"]):
        raise _wrong("media_type")
    if row.get("shown") not in (None, "before", "after"):
        raise _wrong("shown")


def _closing(row: Row) -> None:
    body = json.loads(row["body"])
    cells = chain.from_iterable(body["figures"])
    asked = chain.from_iterable((one["question"], one["reason"]) for one in body["asked"])
    _texts([body["text"], *cells, *body["work"], *asked])
    entries, before, _ = body["mark"]
    _texts([str(entries), str(before), *body.get("beside", ())])
    for name in ("pdf_hash", "html_hash"):
        if not HASH.fullmatch(row[name]):
            raise _wrong(name)


def _texts(values: Iterable[object]) -> None:
    if not all(isinstance(value, str) for value in values):
        raise _wrong("text")


def _setting(row: Row) -> None:
    if row["id"].startswith(HOUSE):
        kept = json.loads(row["value"])
        if kept.get("hand", "medium") not in HANDS:
            raise _wrong("hand")
        if not all(value is None or isinstance(value, int | float | str) for value in kept.values()):
            raise _wrong("figure")

    if row["id"].startswith(KIND):
        if not is_kind_key(row["id"].removeprefix(KIND)):
            raise _wrong("id")
        checked_table(json.loads(row["value"]))
    if row["id"].startswith(STRENGTHS):
        PlayedStrengths.model_validate_json(row["value"])
    if row["id"].startswith(JOINED):
        memory = json.loads(row["value"])
        keys = [memory["kept"], *memory["visits"], *memory["attachments"]]
        if not all(isinstance(key, str) and NAME.fullmatch(key) for key in keys):
            raise _wrong("joining")
        values = [*memory["before"].values(), *memory["after"].values()]
        if not all(value is None or isinstance(value, str | int | float) for value in values):
            raise _wrong("joining")
        if memory["before"].keys() != memory["after"].keys() or not memory["before"].keys() <= COLUMNS:
            raise _wrong("joining")
        for body in (told["body"] for told in (memory["before"], memory["after"]) if "body" in told):
            Instrument.model_validate_json(body)


def _change(row: Row) -> None:
    body = json.loads(row["body"])
    if not isinstance(body, dict):
        raise _wrong("body")


READ: dict[str, Callable[[Row], None]] = {
    "owner": _hand, "instrument": _instrument, "visit": _visit, "entry": _entry, "stock": _stock, "run": _run,
    "procedure": _procedure, "attachment": _attachment, "closing": _closing, "setting": _setting, "change": _change,
}  # fmt: skip
