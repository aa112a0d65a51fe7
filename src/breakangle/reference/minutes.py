"""What a piece of work takes at the bench, in minutes, from one table."""

from functools import cache

from breakangle.reference.rows import look_up, read_table


@cache
def _minutes() -> dict[str, float]:
    return {key: float(row["minutes"]) for key, row in read_table("bench_minutes").items()}


def minutes_of(work: str) -> float:
    """Return how long one such piece of work takes at the bench, in minutes.

    Raises:
        CorrectInputError: no such work; the error names what there is.
    """
    return look_up("work", work, _minutes())
