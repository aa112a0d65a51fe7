"""The folder a run's answers go to: finished batches first, one table at the end; what is there is not done again.

Every batch is up to three files under `parts/`, written under another name and renamed, the list of what is done last:
a batch counts once its list is there, so a run that is broken off at any moment leaves whole batches, and nothing
twice. The table is made from the parts in the order of the items' names, whichever batch they came with.
"""

import hashlib
import json
import os
import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from breakangle import __version__
from breakangle.fleet import table
from breakangle.fleet.items import ABOUT, PARTS, Item
from breakangle.fleet.needs import arrow, parquet
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.words.speech import ENGLISH, spoken_language, tr
from breakangle.storage.connection.lease import locked

if TYPE_CHECKING:
    import pyarrow as pa

AT_WORK = "at-work.lock"
RESULTS, FAILURES = "results.parquet", "failures.parquet"
LONGEST_SETTING = 100  # characters; a longer one is a file's text
GROUP_ROWS = 65_536  # rows in one group of the table, always: the same rows are the same bytes
OWN_PART = re.compile(r"\.?[0-9a-f]{20}\.(rows|failures|done)\.parquet(\.\d+)?")
Key = tuple[str, str]  # an item's name, its content's hash


@dataclass(frozen=True)
class Kept:
    """What a folder holds: which items are done, and which of them failed."""

    done: frozenset[Key]
    failed: frozenset[Key]


class Store:
    """One folder for one job with one set of settings."""

    def __init__(self, folder: Path, job: str, settings: Mapping[str, Any]) -> None:
        """Open the folder, or begin it.

        Raises:
            CorrectInputError: it holds another job's answers, or those of other settings or another version, or
                files of somebody's own in their place, or another run is at work in it.
            ChooseAnotherFileError: it cannot be written, or none is named.
        """
        self.folder, self.job = folder, job
        self.parts = folder / PARTS
        about = {
            "job": job,
            "settings": {name: _recorded(value) for name, value in sorted(settings.items())},
            "program": __version__,
            "language": spoken_language(),
        }
        try:
            _refuse_files_of_others(folder)
            self.parts.mkdir(parents=True, exist_ok=True)
            with ExitStack() as stack:
                self._held = (folder / AT_WORK).open(
                    "ab"
                )  # the lock ends with the process, however that ends
                stack.callback(self.close)
                self._begin(about)
                stack.pop_all()
        except OSError as cause:
            why = (cause.strerror or str(cause)).lower()
            raise ChooseAnotherFileError(
                tr("{folder} cannot be written: {why}", folder=folder, why=why), "", tr("name another")
            ) from cause

    def close(self) -> None:
        """Let other runs at the folder."""
        self._held.close()

    def _begin(self, about: Mapping[str, Any]) -> None:
        path = self.folder / ABOUT
        if not locked(self._held):
            raise CorrectInputError(
                tr("another run is at work in {folder}", folder=self.folder),
                tr("one run at a time"),
                tr("wait for it, or name another folder"),
            )
        if not path.exists():
            _put(path, (json.dumps(about, indent=1) + "\n").encode())
            return
        held = _about_in(path)
        if held != about:
            raise CorrectInputError(
                tr("{folder} holds answers of {said}", folder=self.folder, said=_said(held)),
                tr("not of {said}", said=_said(about)),
                tr("name another folder, or remove this one"),
            )

    def kept(self) -> Kept:
        """Return what is done; parts that were not finished are removed."""
        done, failed = set(), set()
        names = {path.name.split(".")[0] for path in self.parts.glob("*.done.parquet")}
        for path in sorted(self.parts.iterdir()):
            if not OWN_PART.fullmatch(path.name):
                continue  # a person's own
            if path.name.split(".")[0] not in names or not path.name.endswith(".parquet"):
                path.unlink()
            elif path.name.endswith(".done.parquet"):
                for row in parquet().read_table(path).to_pylist():
                    done.add((row["item"], row["sha256"]))
                    if row["failed"]:
                        failed.add((row["item"], row["sha256"]))
        return Kept(frozenset(done), frozenset(failed))

    def forget(self, keys: Iterable[Key]) -> None:
        """Take failures out of what is done, so that they are tried again."""
        gone = set(keys)
        for path in sorted(self.parts.glob("*.done.parquet")):
            rows = parquet().read_table(path).to_pylist()
            left = [row for row in rows if (row["item"], row["sha256"]) not in gone]
            if len(left) < len(rows):
                failures = path.with_name(path.name.replace(".done.", ".failures."))
                stay = [
                    row
                    for row in parquet().read_table(failures).to_pylist()
                    if (row["item"], row["sha256"]) not in gone
                ]
                _write(failures, arrow().Table.from_pylist(stay, schema=table.schema_of(table.FAILED)))
                _write(path, arrow().Table.from_pylist(left, schema=table.schema_of(table.DONE)))

    def put(self, answers: Sequence[table.Answer]) -> None:
        """Keep one batch's answers, whole or not at all."""
        name = hashlib.sha256("\n".join(f"{one.item}\t{one.sha256}" for one in answers).encode()).hexdigest()[
            :20
        ]
        if any(one.rows for one in answers):
            _write(self.parts / f"{name}.rows.parquet", table.results(self.job, answers))
        if any(one.error for one in answers):
            _write(self.parts / f"{name}.failures.parquet", table.failures(answers))
        _write(self.parts / f"{name}.done.parquet", table.done(answers))

    def finish(self, items: Sequence[Item]) -> tuple[Path, Path]:
        """Write the tables of these items, sorted by item and row; return where."""
        wanted = {(one.name, one.sha256) for one in items}
        columns = {"rows": table.columns_of(self.job), "failures": table.FAILED}
        for part, target in (("rows", RESULTS), ("failures", FAILURES)):
            schema = table.schema_of(columns[part])
            _write_sorted(sorted(self.parts.glob(f"*.{part}.parquet")), schema, wanted, self.folder / target)
        return self.folder / RESULTS, self.folder / FAILURES


def _refuse_files_of_others(folder: Path) -> None:
    """Raise where a folder that no run began holds what a run would write over or take for its own.

    Raises:
        CorrectInputError: it does; what stands there stays as it is.
    """
    if (folder / ABOUT).exists():
        return
    own = [folder / name for name in (RESULTS, FAILURES)]
    parts = sorted((folder / PARTS).iterdir()) if (folder / PARTS).is_dir() else []
    for path in [*own, *parts]:
        if path.exists():
            raise CorrectInputError(
                tr("{folder} holds files that no run of a fleet made", folder=folder),
                tr("such as {name}", name=path.relative_to(folder)),
                tr("name a folder that is new or empty"),
            )


def _about_in(path: Path) -> dict[str, Any]:
    """Return which run made a folder's answers.

    Raises:
        CorrectInputError: the file does not say so.
    """
    try:
        held = {"language": ENGLISH, **json.loads(path.read_text(encoding="utf-8"))}
        if isinstance(held["settings"], dict) and {"job", "program"} <= set(held):
            return held
    except (ValueError, TypeError, KeyError):
        pass
    raise CorrectInputError(
        tr("{path} is not a run's", path=path),
        tr("it says which job and settings made the answers beside it"),
        tr("name another folder"),
    )


def _recorded(value: Any) -> Any:
    """Return a setting as it is written down: what is long, a file's text, by its hash."""
    if isinstance(value, str) and len(value) > LONGEST_SETTING:
        return f"sha256:{hashlib.sha256(value.encode()).hexdigest()}"
    return value


def _said(about: Mapping[str, Any]) -> str:
    named = ", ".join(f"{name} {value}" for name, value in about["settings"].items() if value is not None)
    settings = tr(" with {settings}", settings=named) if named else ""
    if about["language"] != ENGLISH:
        settings += tr(" in the language {language}", language=about["language"])
    return tr(
        "{job}{settings}, version {program}",
        job=about["job"],
        settings=settings,
        program=about["program"],
    )


def _write_sorted(paths: Sequence[Path], schema: "pa.Schema", wanted: set[Key], target: Path) -> None:
    """Write the wanted rows of parts in the order of items; of parts that do not overlap one at a time is in memory."""
    writing = target.with_name(f".{target.name}.{os.getpid()}")
    waiting = schema.empty_table()
    with parquet().ParquetWriter(writing, schema, compression="zstd") as writer:
        for group in _groups(paths):
            rows = _rows_of(group, schema, wanted)
            waiting = arrow().concat_tables([waiting, rows])
            while waiting.num_rows >= GROUP_ROWS:
                writer.write_table(_own(waiting.slice(0, GROUP_ROWS)), row_group_size=GROUP_ROWS)
                waiting = waiting.slice(GROUP_ROWS)
        if waiting.num_rows:
            writer.write_table(_own(waiting), row_group_size=GROUP_ROWS)
    _sync(writing)
    writing.replace(target)


def _own(rows: "pa.Table") -> "pa.Table":
    """Return rows in one piece: how they came together must not show in the file."""
    return rows.combine_chunks()


def _groups(paths: Sequence[Path]) -> list[list[Path]]:
    """Return parts in groups whose items do not overlap, in order."""
    ranges = []
    for path in paths:
        names = parquet().read_table(path, columns=["item"]).column("item").to_pylist()
        if names:
            ranges.append((min(names), max(names), path))
    found: list[list[Path]] = []
    end = ""
    for first, last, path in sorted(ranges):
        if found and first <= end:
            found[-1].append(path)
        else:
            found.append([path])
        end = max(end, last)
    return found


def _rows_of(paths: Sequence[Path], schema: "pa.Schema", wanted: set[Key]) -> "pa.Table":
    whole = arrow().concat_tables([parquet().read_table(path, schema=schema) for path in paths])
    keys = zip(whole.column("item").to_pylist(), whole.column("sha256").to_pylist(), strict=True)
    kept = whole.filter(arrow().array([key in wanted for key in keys], type=arrow().bool_()))
    order = [("item", "ascending")] + ([("row", "ascending")] if "row" in schema.names else [])
    return kept.sort_by(order)


def _write(path: Path, rows: "pa.Table") -> None:
    writing = path.with_name(f".{path.name}.{os.getpid()}")
    parquet().write_table(rows, writing, compression="zstd")
    _sync(writing)
    writing.replace(path)


def _put(path: Path, content: bytes) -> None:
    writing = path.with_name(f".{path.name}.{os.getpid()}")
    writing.write_bytes(content)
    _sync(writing)
    writing.replace(path)


def _sync(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())
