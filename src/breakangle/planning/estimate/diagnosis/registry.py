"""The patterns there are, found by listing their folder: a new file appears everywhere by itself."""

import importlib
import pkgutil
from functools import lru_cache

from breakangle.planning.estimate.diagnosis import patterns
from breakangle.planning.estimate.diagnosis.cause import Cause
from breakangle.planning.estimate.diagnosis.pattern import Pattern
from breakangle.planning.state.board import Board


@lru_cache(maxsize=1)
def all_patterns() -> dict[str, Pattern]:
    """Return every pattern by its key."""
    names = sorted(found.name for found in pkgutil.iter_modules(patterns.__path__))
    modules = [importlib.import_module(f"{patterns.__name__}.{name}") for name in names]
    return {module.PATTERN.name: module.PATTERN for module in modules}


@lru_cache(maxsize=64)
def causes_of(board: Board) -> tuple[Cause, ...]:
    """Return every cause of every pattern that this instrument can have."""
    return tuple(cause for one in all_patterns().values() for cause in one.causes(board))
