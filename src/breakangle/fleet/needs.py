"""Parts of the extra `fleet`, loaded when they are first needed."""

from collections.abc import Mapping
from contextlib import AbstractContextManager
from types import ModuleType
from typing import Any

from breakangle.model.errors import InstallError
from breakangle.model.words.speech import tr

# Dask has workers give memory back to the system at once: every array of a megabyte comes as pages that it first
# has to clear, a third of the time of a worker that listens. With these it holds what it used last. They are the most
# that glibc itself goes up to (mallopt(3), M_MMAP_THRESHOLD: DEFAULT_MMAP_THRESHOLD_MAX, and twice that).
HELD_BYTES = {"MALLOC_MMAP_THRESHOLD_": 32 << 20, "MALLOC_TRIM_THRESHOLD_": 64 << 20}
# Dask samples the stack of what it runs a hundred times a second, and holds an hour of that and of its diaries, for
# pages that nobody sees here: a worker grew by a third of a megabyte a second, and tasks took longer and longer.
LEAN = {
    "distributed.worker.preload": ["breakangle.fleet.work"],
    "distributed.worker.profile.enabled": False,
    "distributed.admin.log-length": 100,
    # How late its loops are it looks fifty times a second, and what the machine does twice: a twentieth of a core.
    "distributed.admin.tick.interval": "500 ms",
    "distributed.admin.system-monitor.interval": "5 s",
    "distributed.admin.low-level-log-length": 100,
    "distributed.admin.system-monitor.log-length": 60,
    "distributed.diagnostics.computations.max-history": 2,
    "distributed.diagnostics.erred-tasks.max-history": 10,
    **{f"distributed.nanny.pre-spawn-environ.{name}": size for name, size in HELD_BYTES.items()},
}


def parquet() -> ModuleType:
    """Return pyarrow's Parquet module.

    Raises:
        InstallError: it is not installed.
    """
    try:
        import pyarrow.parquet
    except ImportError as cause:
        raise _missing("pyarrow") from cause
    found: ModuleType = pyarrow.parquet
    return found


def arrow() -> ModuleType:
    """Return pyarrow.

    Raises:
        InstallError: it is not installed.
    """
    try:
        import pyarrow
    except ImportError as cause:
        raise _missing("pyarrow") from cause
    found: ModuleType = pyarrow
    return found


def dask() -> ModuleType:
    """Return Dask's `distributed`.

    Raises:
        InstallError: it is not installed.
    """
    try:
        import distributed
    except ImportError as cause:
        raise _missing("distributed") from cause
    found: ModuleType = distributed
    return found


def dask_settings(values: Mapping[str, Any]) -> AbstractContextManager[Any]:
    """Return what holds settings of Dask's own to `LEAN` and these values while it is entered.

    Raises:
        InstallError: it is not installed.
    """
    try:
        import dask.config
    except ImportError as cause:
        raise _missing("distributed") from cause
    found: AbstractContextManager[Any] = dask.config.set({**LEAN, **values})
    return found


def x509() -> ModuleType:
    """Return what makes and reads certificates, of `cryptography`.

    Raises:
        InstallError: it is not installed.
    """
    try:
        import cryptography.x509
    except ImportError as cause:
        raise _missing("cryptography") from cause
    found: ModuleType = cryptography.x509
    return found


def _missing(package: str) -> InstallError:
    return InstallError(
        tr("many instruments at once need {package}, which is not installed", package=package),
        tr("one instrument at a time works without it"),
        tr("pip install 'breakangle[fleet]'"),
    )
