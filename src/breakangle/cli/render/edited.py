"""A record in words, and what is said where another person edited it meanwhile."""

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from breakangle.model.words.speech import tr


def told(values: Mapping[str, Any]) -> str:
    """Return what stands in a record, each value by its name; what is empty is left out, times are the clock's here."""
    from breakangle.services.visits.visits import local_text

    shown = {name: local_text(one) if isinstance(one, datetime) else one for name, one in values.items()}
    said = {name: repr(one) if isinstance(one, str) else one for name, one in shown.items()}
    return ", ".join(f"{name}={one}" for name, one in said.items() if one is not None)


@contextmanager
def told_when_edited() -> Iterator[None]:
    """Print both versions where another person edited the record meanwhile; the error goes on.

    Raises:
        EditedMeanwhileError: as it came.
    """
    from breakangle.storage.schema.errors import EditedMeanwhileError

    try:
        yield
    except EditedMeanwhileError as both:
        yours = both.yours if isinstance(both.yours, Mapping) else {}
        sys.stderr.write(
            tr("there: {told}\nyours: {told_2}\n", told=told(vars(both.theirs)), told_2=told(yours))
        )
        raise
