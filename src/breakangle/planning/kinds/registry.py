"""The kinds there are, found by listing their folders: a new file appears everywhere by itself."""

import importlib
import pkgutil
from functools import lru_cache
from types import ModuleType
from typing import Any

from breakangle.model.reading import Adjustment, Reading, Target
from breakangle.model.service_file import Kinds
from breakangle.planning.kinds import adjustments, readings, targets
from breakangle.planning.kinds.kind import AdjustmentKind, ReadingKind, TargetKind


def _kinds_in(folder: ModuleType) -> list[Any]:
    names = sorted(found.name for found in pkgutil.iter_modules(folder.__path__))
    modules = [importlib.import_module(f"{folder.__name__}.{name}") for name in names]
    return [module.KIND for module in modules if hasattr(module, "KIND")]


@lru_cache(maxsize=1)
def reading_kinds() -> dict[str, ReadingKind]:
    """Return every reading kind by name."""
    return {kind.name: kind for kind in _kinds_in(readings)}


@lru_cache(maxsize=1)
def adjustment_kinds() -> dict[str, AdjustmentKind]:
    """Return every adjustment kind by name, in the order of work."""
    return {kind.name: kind for kind in sorted(_kinds_in(adjustments), key=lambda kind: kind.order)}


@lru_cache(maxsize=1)
def target_kinds() -> dict[str, TargetKind]:
    """Return every target kind by name."""
    return {kind.name: kind for kind in _kinds_in(targets)}


@lru_cache(maxsize=1)
def file_kinds() -> Kinds:
    """Return the kinds as the service file needs them."""
    return Kinds(
        readings=tuple(kind.model for kind in reading_kinds().values()),
        adjustments=tuple(kind.model for kind in adjustment_kinds().values()),
        targets=tuple(kind.model for kind in target_kinds().values()),
    )


def reading_kind(reading: Reading) -> ReadingKind:
    """Return the kind of `reading`."""
    return reading_kinds()[reading.quantity]


def adjustment_kind(adjustment: Adjustment) -> AdjustmentKind:
    """Return the kind of `adjustment`."""
    return adjustment_kinds()[adjustment.adjust]


def target_kind(target: Target) -> TargetKind:
    """Return the kind of `target`."""
    return target_kinds()[target.quantity]
