"""The tables with made-up rows beside the real ones: families, makes, wraps and posts of the same facts, other keys."""

import importlib
import pkgutil
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydantic import BaseModel

from breakangle import reference as tables
from breakangle.reference import rows
from breakangle.reference.families import families
from breakangle.reference.posts import posts
from breakangle.reference.strings import makes, wraps
from breakangle.web import texts

ROWS = {"materials/makes": makes, "materials/wraps": wraps, "posts": posts}


def made_up_names() -> dict[str, str]:
    """Return a key that says nothing, or the wrong thing, for every family, make, wrap and post."""
    names = {key: f"quokka-{place}" for place, key in enumerate(families())}
    names |= {key: f"titanium-wound-{place}" for place, key in enumerate(makes())}
    names |= {key: f"moon-dust-{place}" for place, key in enumerate(wraps())}
    return names | {f"post {key}": f"spindle-{place}" for place, key in enumerate(posts())}


def _forget() -> None:
    """Empty what was read from the tables' files."""
    for found in pkgutil.iter_modules(tables.__path__):
        for value in vars(importlib.import_module(f"{tables.__name__}.{found.name}")).values():
            if hasattr(value, "cache_clear"):
                value.cache_clear()
    texts._of_tables.cache_clear()


def _renamed(text: str, names: dict[str, str]) -> str:
    """Return a family's file with made-up makes, wraps and posts."""

    def other(match: re.Match[str]) -> str:
        column, key = match.groups()
        return f'{column} = "{names[f"post {key}" if column == "post" else key]}"'

    return re.sub(r'\b(make|wrap|post) = "([^"]+)"', other, text)


def _twin(row: str, names: dict[str, str]) -> str:
    """Return a row's columns with a made-up wrap, of a made-up material."""
    row = re.sub(r'(?m)^usual_wrap = "(.+)"$', lambda match: f'usual_wrap = "{names[match[1]]}"', row)
    return re.sub(r'(?m)^material = "(.+)"$', r'material = "un\1obtainium"', row)


def _write(folder: Path, names: dict[str, str]) -> None:
    """Put a twin under a made-up key beside every family, make, wrap and post."""
    for kind in families():
        text = (folder / "families" / f"{kind}.toml").read_text(encoding="utf-8")
        made = _renamed(text, names).replace("offered_first = true\n", "")
        (folder / "families" / f"{names[kind]}.toml").write_text(made, encoding="utf-8")
    for name, keys in ROWS.items():
        path = folder / f"{name}.toml"
        text, place = path.read_text(encoding="utf-8"), "post " if name == "posts" else ""
        for key in keys():
            made = names[f"{place}{key}"]
            parts = re.findall(rf"(?ms)^\[{key}((?:\.\w+)?)\]\n(.*?)(?=^\[|\Z)", text)
            assert parts, (name, key)
            text += "".join(f"\n[{made}{part}]\n{_twin(row, names)}" for part, row in parts)
        path.write_text(text, encoding="utf-8")


@contextmanager
def renamed_tables(folder: Path) -> Iterator[dict[str, str]]:
    """Read the tables from `folder`, where every row of these has a twin of another name; give the names."""
    names = made_up_names()
    shutil.copytree(Path(tables.__path__[0]) / "data", folder / "data")
    _write(folder / "data", names)
    with pytest.MonkeyPatch.context() as patch:
        real = rows.files
        patch.setattr(rows, "files", lambda package: folder if package == tables.__name__ else real(package))
        _forget()
        try:
            yield names
        finally:
            patch.undo()
            _forget()


def plain(value: Any) -> Any:
    """Return a result as bare data that can be compared: numbers to 12 digits, functions and objects by their class."""
    if isinstance(value, BaseModel):
        return value.model_dump(mode="json")
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, dict):
        return {str(plain(key)): plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(one) for one in (sorted(value) if isinstance(value, set | frozenset) else value)]
    if isinstance(value, float | np.floating):
        return float(f"{value:.12g}")
    if isinstance(value, str | int | bytes | Enum | None):
        return value
    return type(value).__name__


def as_named(text: str, names: dict[str, str]) -> str:
    """Return a text with the real names in the place of the made-up ones."""
    back = {made: real.removeprefix("post ") for real, made in names.items()}
    return re.sub("|".join(sorted(back, key=len, reverse=True)), lambda match: back[match[0]], text)
