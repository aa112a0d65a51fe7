"""A folder a topic, found by listing, with its routes and templates; a route parses, calls one service, renders."""

import importlib
import pkgutil
from pathlib import Path

from fastapi import APIRouter


def folders() -> list[Path]:
    """Return the topics' folders, in the order of their names: where templates are looked for."""
    return sorted(one for one in Path(__path__[0]).iterdir() if (one / "__init__.py").exists())


def routers() -> list[APIRouter]:
    """Return the routers of every topic, in the order of their files' names."""
    found = [
        (one.name, f"{__name__}.{folder.name}.{one.name}")
        for folder in folders()
        for one in pkgutil.iter_modules([str(folder)])
    ]
    modules = [importlib.import_module(place) for _, place in sorted(found)]
    return [module.router for module in modules if hasattr(module, "router")]
