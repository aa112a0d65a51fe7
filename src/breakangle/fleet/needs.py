"""Parts of the extra `fleet`, loaded when they are first needed."""

from collections.abc import Mapping
from contextlib import AbstractContextManager
from types import ModuleType
from typing import Any

from breakangle.model.errors import InstallError
from breakangle.model.words.speech import tr


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
    """Return what holds settings of Dask's own to these values while it is entered.

    Raises:
        InstallError: it is not installed.
    """
    try:
        import dask.config
    except ImportError as cause:
        raise _missing("distributed") from cause
    found: AbstractContextManager[Any] = dask.config.set(values)
    return found


def _missing(package: str) -> InstallError:
    return InstallError(
        tr("many instruments at once need {package}, which is not installed", package=package),
        tr("one instrument at a time works without it"),
        tr("pip install 'breakangle[fleet]'"),
    )
