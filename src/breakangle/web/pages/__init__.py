"""One file a place: its routes, found by listing this folder; each parses, calls one desk function, renders once."""

import importlib
import pkgutil

from fastapi import APIRouter


def routers() -> list[APIRouter]:
    """Return the routers of every place, in the order of their names."""
    names = sorted(one.name for one in pkgutil.iter_modules(__path__) if not one.name.startswith("_"))
    return [importlib.import_module(f"{__name__}.{name}").router for name in names]
