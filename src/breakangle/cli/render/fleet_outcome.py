"""What a fleet's run came to, in words: how many, which verdicts, and what failed with its sentence."""

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from breakangle.fleet.needs import parquet
from breakangle.model.words.speech import tr, tr_n

if TYPE_CHECKING:
    from breakangle.fleet.run import Outcome

VERDICT, MINUTES = "verdict", "minutes"
MOST_TOLD = 10  # failures; what is on a screen at once, all of them are in the table


def outcome_words(outcome: "Outcome") -> tuple[str, ...]:
    """Return what the run came to, a line each.

    Raises:
        InstallError: pyarrow is not installed.
    """
    done = tr_n(
        "{total} item: {total_2} done, {failed} failed; {before} done before; {seconds:.1f} s",
        "{total} items: {total_2} done, {failed} failed; {before} done before; {seconds:.1f} s",
        outcome.total,
        total=outcome.total,
        total_2=outcome.total - outcome.failed,
        failed=outcome.failed,
        before=outcome.before,
        seconds=outcome.seconds,
    )
    failed = [str(outcome.failures), *_failures(outcome.failures)] if outcome.failed else []
    return (done, *_verdicts(outcome.results), str(outcome.results), *failed)


def _verdicts(path: Path) -> list[str]:
    """Return how many rows have each verdict, the most frequent first, and what all trips take; none of other jobs."""
    there = set(parquet().read_schema(path).names)
    if VERDICT not in there:
        return []
    rows = parquet().read_table(path, columns=[name for name in (VERDICT, MINUTES) if name in there])
    counted = Counter(rows.column(VERDICT).to_pylist())
    if not counted:
        return []
    told = ", ".join(
        f"{verdict} {count}" for verdict, count in sorted(counted.items(), key=lambda one: (-one[1], one[0]))
    )
    if MINUTES not in there:
        return [tr("verdicts: {told}", told=told)]
    hours = sum(rows.column(MINUTES).to_pylist()) / 60
    return [tr("verdicts: {told}; {hours:.1f} h at the bench in all", told=told, hours=hours)]


def _failures(path: Path) -> list[str]:
    """Return the first failures, each with its sentence, and how many more there are."""
    rows = parquet().read_table(path, columns=["item", "sentence"])
    found = [f"  {_told(row['item'], row['sentence'])}" for row in rows.slice(0, MOST_TOLD).to_pylist()]
    more = rows.num_rows - len(found)
    return [*found, tr("  and {more} more", more=more)] if more else found


def _told(item: str, sentence: str) -> str:
    return sentence if sentence.startswith(item) else f"{item}: {sentence}"
