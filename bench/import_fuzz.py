"""Whole-shop exports and service files with something wrong inside: refused in a sentence, or readable on all pages."""

import hashlib
import json
import random
import shutil
import sys
import tempfile
import warnings
import zipfile
from dataclasses import dataclass, field
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image
from starlette.testclient import TestClient

from breakangle.model.errors import BreakangleError
from breakangle.services.service_files.example import example_text
from breakangle.services.visits.entries import correct, do_adjustment, take_reading
from breakangle.services.visits.service_files import bring_in
from breakangle.services.visits.visits import add_owner, open_visit
from breakangle.services.workshop.attachments import attach
from breakangle.services.workshop.opening import shop_at
from breakangle.services.workshop.prices import add_price
from breakangle.storage.exchange.exchange import export_shop
from breakangle.storage.records.records import InstrumentRecord
from breakangle.storage.schema.stamp import Stamp
from breakangle.web.app import make_app
from breakangle.web.options import Options

SEED, COUNT, QUICK_COUNT = 16, 2000, 100
ADA = Stamp("Ada", datetime(2027, 3, 1, 9, 30, tzinfo=UTC))
GAP = {"quantity": "gap", "string": 6, "fret": 12, "mm": 1.9}
ROD = {"adjust": "rod", "turns": 0.25}
HARMFUL: tuple[Any, ...] = (
    None, True, -1, 0, 10**30, -(2**63), 2**31, 1e308, float("inf"), float("nan"), "", "x", "garbage{", "null", "[]",
    "{}", "\x00", "\ud800", "../../etc", "a" * 5000, [], {}, [[]], "0001-01-01T00:00:00.000000Z", "NaN", "1e999999",
    "<script>", "\r\n", "😀", "2027-13-45",
)  # fmt: skip
PAGES = ("/", "/instruments", "/search?q=a", "/shop", "/shop/lists/owner", "/shop/lists/price", "/shop/lists/stock",
         "/shop/lists/gauge", "/shop/targets", "/shop/procedures", "/shop/heading", "/shop/settings")  # fmt: skip
SHEET = ("", "/plan", "/readings", "/entries", "/paper", "/strings", "/hand-back", "/complaint", "/listen")


@dataclass
class Outcome:
    """What came of the files: how many were refused and taken in, what raised, what could not be read back."""

    refused: int = 0
    taken: int = 0
    tracebacks: list[str] = field(default_factory=list)
    unreadable: list[str] = field(default_factory=list)


def filled_export(folder: Path) -> dict[str, bytes]:
    """Return the files of a whole-shop export with a little of everything, by name."""
    shop = shop_at(folder / "from")
    add_owner(shop, ADA, "Åse Holm", "ase@example.org")
    visit = bring_in(shop, example_text().encode(), "a file", ADA).visit
    entry = take_reading(shop, visit.id, GAP, ADA)
    correct(shop, entry.id, GAP | {"mm": 1.7}, "misread", ADA)
    do_adjustment(shop, visit.id, ROD, ADA)
    out = BytesIO()
    Image.new("RGB", (80, 50), (120, 60, 20)).save(out, "PNG")
    attach(shop, ADA, visit, "photograph", "front.png", out.getvalue())
    open_visit(shop, ADA, shop.every(InstrumentRecord)[0], "buzzes")
    add_price(shop, ADA, "labour", "set-up", "65")
    export_shop(shop, folder / "all.zip")
    shop.close()
    with zipfile.ZipFile(folder / "all.zip") as zipped:
        return {name: zipped.read(name) for name in zipped.namelist()}


def made(path: Path, parts: dict[str, bytes]) -> Path:
    """Return a zip of these files whose manifest has their hashes right."""
    manifest = json.loads(parts["manifest.json"])
    for name in manifest["sha256"]:
        if name in parts:
            manifest["sha256"][name] = hashlib.sha256(parts[name]).hexdigest()
    with zipfile.ZipFile(path, "w") as out:
        for name, content in (parts | {"manifest.json": json.dumps(manifest).encode()}).items():
            how = zipfile.ZIP_STORED if name.startswith("blobs/") else zipfile.ZIP_DEFLATED
            out.writestr(name, content, how)
    return path


def with_row(parts: dict[str, bytes], table: str, at: int, changed: dict[str, Any]) -> dict[str, bytes]:
    """Return the files with one row of a table changed."""
    rows = [json.loads(line) for line in parts[f"{table}.jsonl"].splitlines()]
    rows[at] |= changed
    return parts | {f"{table}.jsonl": b"".join(json.dumps(row).encode() + b"\n" for row in rows)}


def mutated(parts: dict[str, bytes], dice: random.Random) -> dict[str, bytes]:
    """Return the files with one to three wrong values: in a column, or somewhere inside a body."""
    tables = [name[:-6] for name, content in parts.items() if name.endswith(".jsonl") and content]
    for _ in range(dice.randint(1, 3)):
        table = dice.choice(tables)
        rows = [json.loads(line) for line in parts[f"{table}.jsonl"].splitlines()]
        at = dice.randrange(len(rows))
        column = dice.choice(sorted(rows[at]))
        value = dice.choice(HARMFUL)
        if isinstance(rows[at].get("body"), str) and dice.random() < 0.5:
            column, value = "body", mutated_json(rows[at]["body"], dice)
        parts = with_row(parts, table, at, {column: value})
    return parts


def mutated_json(text: str, dice: random.Random) -> str:
    """Return JSON text with one value somewhere in it replaced or removed, or the text itself cut."""
    if dice.random() < 0.1:
        return text[: dice.randrange(len(text) + 1)]
    try:
        data = json.loads(text)
    except ValueError:  # spoilt already
        return text
    places: list[tuple[Any, Any]] = []

    def walk(node: Any) -> None:
        for key in (
            list(node) if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ()
        ):
            places.append((node, key))
            walk(node[key])

    walk(data)
    if places:
        node, key = dice.choice(places)
        if dice.random() < 0.3:
            del node[key]
        else:
            node[key] = dice.choice(HARMFUL)
    return json.dumps(data)


def fuzz(count: int, seed: int, folder: Path) -> Outcome:
    """Bring in `count` mutated files, every third of them a service file, each into a shop of its own."""
    dice, outcome = random.Random(seed), Outcome()
    parts, service = filled_export(folder), example_text()
    app = make_app(Options(folder / "none", port=8320))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with TestClient(app, base_url="http://127.0.0.1:8320", client=("127.0.0.1", 5000)) as client:
            for number in range(count):
                there = folder / f"to-{number}"
                app.state.workshop.replaced(lambda there=there: setattr(app.state.workshop, "folder", there))
                if number % 3 == 2:
                    address, content = "/visits/new/import", mutated_json(service, dice).encode()
                else:
                    address = "/shop/restore"
                    content = made(folder / "made.zip", mutated(parts, dice)).read_bytes()
                _one(client, address, content, f"{seed}/{number}", outcome)
                shutil.rmtree(there, ignore_errors=True)
                if number % 100 == 99:
                    bad = len(outcome.tracebacks) + len(outcome.unreadable)
                    print(f"{number + 1} files, {bad} findings", file=sys.stderr, flush=True)
    return outcome


def _one(client: TestClient, address: str, content: bytes, name: str, outcome: Outcome) -> None:
    field_name = "backup" if address.endswith("restore") else "file"
    try:
        answer = client.post(address, files={field_name: ("made.zip", content)}, follow_redirects=False)
    except Exception as error:
        outcome.tracebacks.append(f"{name} {address}: {error!r}"[:300])
        return
    if answer.status_code not in (200, 303, 409, 422):  # refused for what is in it, or taken in; nothing else
        outcome.tracebacks.append(f"{name} {address}: {answer.status_code}")
    if answer.status_code >= 400:
        outcome.refused += 1
        if _visits(client):
            outcome.unreadable.append(f"{name}: refused, and yet something was stored")
        return
    outcome.taken += 1
    for page in [*PAGES, *(f"/visits/{number}{part}" for number in _visits(client) for part in SHEET)]:
        try:
            shown = client.get(page)
        except Exception as error:
            outcome.unreadable.append(f"{name} {page}: {error!r}"[:300])
            continue
        if shown.status_code >= 500 or ("damaged" in shown.text and "no whole-shop" in shown.text):
            outcome.unreadable.append(f"{name} {page}: {shown.status_code}")


def _visits(client: TestClient) -> list[int]:
    try:
        with client.app.state.workshop.shop().reading() as connection:  # type: ignore[attr-defined]
            from sqlalchemy import text

            return [
                int(row[0])
                for row in connection.execute(text("SELECT number FROM visit WHERE deleted_at IS NULL"))
            ]
    except BreakangleError:
        return []


def prove(quick: bool = False) -> tuple[bool, str]:
    """Return whether none raised and all could be read back; how many were refused and taken in."""
    count = QUICK_COUNT if quick else COUNT
    with tempfile.TemporaryDirectory(prefix="breakangle-") as folder:
        outcome = fuzz(count, SEED, Path(folder))
    bad = "\n".join(f"  {one}" for one in [*outcome.tracebacks, *outcome.unreadable][:40])
    return not (outcome.tracebacks or outcome.unreadable), (
        f"{count} files, seed {SEED}: {outcome.refused} refused, {outcome.taken} taken in, "
        f"{len(outcome.tracebacks)} tracebacks, {len(outcome.unreadable)} pages unreadable\n{bad}"
    )


def report(quick: bool = False) -> str:
    """Return how many were refused, taken in, raised, and could not be read back."""
    return prove(quick)[1]
