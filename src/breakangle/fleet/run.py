"""One job over many items: what is done is kept as it comes, what failed is told, the table is made at the end."""

import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from breakangle.fleet.batches import Batches
from breakangle.fleet.engine import Engine
from breakangle.fleet.items import Item
from breakangle.fleet.jobs import job_named
from breakangle.fleet.store import Store
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr


@dataclass(frozen=True)
class Progress:
    """How far a run has come.

    Attributes:
        done: items answered, failures and those of earlier runs among them.
        total: items in all.
        failed: how many of those done failed.
        rate_per_s: items answered a second in this run.
        left_s: what the rest takes at that rate, s; None before anything was answered.
    """

    done: int
    total: int
    failed: int
    rate_per_s: float
    left_s: float | None


@dataclass(frozen=True)
class Outcome:
    """What a run came to.

    Attributes:
        total: items in all.
        before: items that earlier runs had done.
        failed: items that failed, in this run or before.
        results: the table of rows.
        failures: the table of failures.
        seconds: what this run took, s.
    """

    total: int
    before: int
    failed: int
    results: Path
    failures: Path
    seconds: float


def run(
    job: str,
    items: Sequence[Item],
    folder: str | Path,
    engine: Engine,
    *,
    settings: Mapping[str, Any] | None = None,
    batch: int | None = None,
    failed_again: bool = False,
    told: Callable[[Progress], None] = lambda progress: None,
) -> Outcome:
    """Do a job on every item that the folder has no answer for, and write the tables.

    Args:
        job: the job's name.
        items: what to work on, by name.
        folder: where answers are kept; one that a run was broken off in is gone on with.
        engine: where the work is done.
        settings: the job's settings, such as `{"strength": "heavy"}`.
        batch: items handed to a worker at once; None: as many as take about a second and a half.
        failed_again: whether items that failed before are tried again.
        told: hears of the progress after each batch.

    Raises:
        CorrectInputError: no such job, or a folder of another job, other settings or another version, or one that
            another run is at work in.
        ChooseAnotherFileError: the folder cannot be written, or none is named.
    """
    job_named(job)
    if not str(folder):
        raise ChooseAnotherFileError(tr("no folder is named for the answers"), "", tr("name one"))
    began = time.monotonic()
    with closing(Store(Path(folder), job, settings or {})) as store:
        wanted = {(one.name, one.sha256) for one in items}
        kept = store.kept()
        if failed_again and kept.failed & wanted:
            store.forget(kept.failed & wanted)
            kept = store.kept()
        left = [one for one in items if (one.name, one.sha256) not in kept.done]
        before, failed = len(items) - len(left), len(kept.failed & wanted)
        done = before
        batches = Batches(left, batch)
        for answers in engine.answers(job, iter(batches), settings or {}):
            batches.heard(answers)
            store.put(answers)
            done += len(answers)
            failed += sum(bool(one.error) for one in answers)
            told(_progress(done, before, len(items), failed, time.monotonic() - began))
        results, failures = store.finish(items)
    return Outcome(len(items), before, failed, results, failures, time.monotonic() - began)


def _progress(done: int, before: int, total: int, failed: int, seconds: float) -> Progress:
    rate = (done - before) / max(seconds, 1e-9)
    return Progress(done, total, failed, rate, (total - done) / rate if rate > 0 else None)
