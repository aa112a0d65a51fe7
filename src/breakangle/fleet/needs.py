"""Parts of the extra `fleet`, loaded when they are first needed."""

from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from types import ModuleType
from typing import Any, cast

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
    """Return pyarrow's Parquet module; `InstallError` where it is not installed, as for all of these."""
    with _needed("pyarrow"):
        import pyarrow.parquet as found
    return cast(ModuleType, found)


def arrow() -> ModuleType:
    """Return pyarrow."""
    with _needed("pyarrow"):
        import pyarrow as found
    return cast(ModuleType, found)


def dask() -> ModuleType:
    """Return Dask's `distributed`."""
    with _needed("distributed"):
        import distributed as found
    return found


def dask_settings(values: Mapping[str, Any]) -> AbstractContextManager[Any]:
    """Return what holds settings of Dask's own to `LEAN` and these values while it is entered."""
    with _needed("distributed"):
        import dask.config as config
    return cast(AbstractContextManager[Any], config.set({**LEAN, **values}))


def x509() -> ModuleType:
    """Return what makes and reads certificates, of `cryptography`."""
    with _needed("cryptography"):
        import cryptography.x509 as found
    return found


@contextmanager
def _needed(package: str) -> Iterator[None]:
    try:
        yield
    except ImportError as cause:
        raise InstallError(
            tr("many instruments at once need {package}, which is not installed", package=package),
            tr("one instrument at a time works without it"),
            tr("pip install 'breakangle[fleet]'"),
        ) from cause
