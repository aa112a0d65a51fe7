"""What takes long to make and is only looked at is made once in a run, whichever worker of the tests asks first."""

import fcntl
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest

T = TypeVar("T")


def shared_folder(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """Return the folder that all workers of this run see; without workers it is the run's own."""
    own = tmp_path_factory.getbasetemp()
    return own if worker_id == "master" else own.parent


def made_once(folder: Path, name: str, make: Callable[[], T]) -> T:
    """Return what `make` gives: made by the first who asks, read by the others, who wait for it."""
    kept = folder / f"{name}.pickle"
    with (folder / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not kept.exists():
            made = make()
            kept.write_bytes(pickle.dumps(made))
            return made
        found: T = pickle.loads(kept.read_bytes())
        return found
