"""Set-ups that can come down, and what `lowest` says of them at the command line and on its page."""

import html
import json
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from breakangle.cli.main import main
from breakangle.model.service import Service
from breakangle.model.service_file import parse_service
from breakangle.planning.kinds.registry import file_kinds
from breakangle.reference.families import family
from contact_setups import service_data


def high(
    kind: str, rod: float | None = None, travel: list[float] | None = None, **wanted: Any
) -> dict[str, Any]:
    """A service of a family set far above what anybody sets it to, so that it can come down."""
    usual = family(kind).target("light")
    heights = {"low_mm": usual.action_low_mm + 0.6, "high_mm": usual.action_high_mm + 0.6}
    data = service_data(**({"kind": kind} | heights | wanted))
    if rod is not None:
        data["instrument"]["rod"]["turns_left"] = rod
    if travel is not None:
        data["instrument"]["bridge"]["height_travel_mm"] = travel
    return data


def checked(data: dict[str, Any]) -> Service:
    return parse_service(json.dumps(data), file_kinds())


def at_command_line(
    data: dict[str, Any], folder: Path, capsys: pytest.CaptureFixture[str], *options: str
) -> tuple[str, dict[str, Any], int]:
    """What the command prints, what it prints as JSON, and how it leaves."""
    file = folder / "service.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    left = main(["lowest", str(file), *options])
    said = capsys.readouterr().out
    main(["lowest", str(file), "--json", *options])
    return said, json.loads(capsys.readouterr().out), left


def page_of(data: dict[str, Any], bench: TestClient) -> str:
    sent = bench.post("/visits/new/import", files={"file": ("a.json", json.dumps(data).encode())})
    return html.unescape(bench.get(f"{sent.url.path}/lowest?whole=yes").text)
