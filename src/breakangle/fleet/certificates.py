"""Certificates of a run of the job `certify` as files of their own, one for each instrument that passed."""

import re
from dataclasses import dataclass
from pathlib import Path

from breakangle.fleet.needs import parquet
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr

OF_SAME_NAME = re.compile(r" [0-9a-f]{8}$")
NOT_IN_NAMES = re.compile(r"[^\w .()+-]")
LONGEST_NAME = 120
ROWS = 200  # read at once: some 60 kB each


@dataclass(frozen=True)
class Given:
    """What was written: where, how many certificates, and how many instruments have none."""

    folder: Path
    passed: int
    kept_back: int


def certificates_into(results: Path, folder: Path) -> Given:
    """Write the certificate of every instrument that passed; one that no longer does loses the file it had.

    Raises:
        ChooseAnotherFileError: the folder cannot be written.
    """
    passed, kept_back, names = set[str](), 0, set[str]()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        columns = ["item", "sha256", "pdf"]
        for batch in parquet().ParquetFile(results).iter_batches(batch_size=ROWS, columns=columns):
            for row in batch.to_pylist():
                names.add(_name(row["item"]))
                if row["pdf"] is None:
                    kept_back += 1
                    continue
                name = _name(row["item"])
                name = f"{name} {row['sha256'][:8]}.pdf" if f"{name}.pdf" in passed else f"{name}.pdf"
                (folder / name).write_bytes(row["pdf"])
                passed.add(name)
        for old in folder.glob("*.pdf"):
            # A person's own files beside them stay.
            if old.name not in passed and (old.stem in names or OF_SAME_NAME.sub("", old.stem) in names):
                old.unlink()
    except OSError as cause:
        why = (cause.strerror or str(cause)).lower()
        raise ChooseAnotherFileError(
            tr("{folder} cannot be written: {why}", folder=folder, why=why), "", tr("name another")
        ) from cause
    return Given(folder, len(passed), kept_back)


def _name(item: str) -> str:
    """Return a file's name for an item: its own without the ending, and nothing that leads elsewhere."""
    stem = item.removesuffix(".json")
    return NOT_IN_NAMES.sub("_", stem).strip(". ")[:LONGEST_NAME] or "certificate"
