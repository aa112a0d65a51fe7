"""No verb and no page connects outside this computer; the pages are held in `test_screens_rules.py`."""

import ast
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from fastapi.telemetry import TelemetryConfig

from breakangle.cli.main import main, parser
from breakangle.services.history.population import write_population
from breakangle.services.service_files.example import example_text
from breakangle.web.app import NO_TELEMETRY
from documented_commands import documented_verbs
from network_fixtures import closed_environment
from network_fixtures.sitecustomize import CLOSED

pytest_plugins = ["network_fixtures.closed"]

ROOT = Path(__file__).parents[3]
SOURCE = ROOT / "src" / "breakangle"
ELSEWHERE = "192.0.2.1"  # an address of the documentation: RFC 5737
# Verbs of which the docs show no command to run; `serve` is what the pages are asked of.
MORE = (
    "attach 1 photograph photo.png", "backup", "change owner OWNER notes=late", "devices", "doctor", "due",
    "export shop.zip", "import shop.zip", "list visits", "prices", "restore", "search Ada", "setting currency EUR",
    "stock", "targets 1 null", "timeline 1", "today", "visits", "take-in service.json --instrument new --owner Bo",
    "join 1 2 --sure", "split 2", "erase Ada --sure", "fleet-keys keys", "fleet-learn --out taught.json --put-back",
)  # fmt: skip
# They run until they are stopped, and connect where they are told to and nowhere else: `test_fleet_workers.py`.
ENDLESS = {"serve", "fleet-scheduler", "fleet-worker"}


def test_every_verb_of_the_command_is_tried():
    whole = next(one for one in parser()._actions if one.dest == "verb")
    assert set(whole.choices or ()) - ENDLESS == documented_verbs() | {line.split()[0] for line in MORE}


def test_the_other_verbs_connect_nowhere(tmp_path, monkeypatch, capsys, closed_network):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "shop"))
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    Path("service.json").write_text(example_text(), encoding="utf-8")
    Path("photo.png").write_bytes((ROOT / "docs/screens/paper.png").read_bytes())
    for _ in range(2):
        write_population("taught.json", {})
    assert main(["take-in", "service.json", "--owner", "Ada"]) == 0
    capsys.readouterr()
    main(["list", "owners"])
    owner = capsys.readouterr().out.splitlines()[1].split(",")[0]
    for line in MORE:
        code = main(line.replace("OWNER", owner).split())
        said = capsys.readouterr()
        assert (code, said.err) in ((0, ""), (1, "")), line
    assert closed_network == []


@pytest.mark.parametrize("host", [ELSEWHERE, "example.org", "2001:db8::1"])
def test_a_connection_outside_is_refused_and_seen(host):
    CLOSED.tried.clear()
    CLOSED.on = True
    try:
        with pytest.raises(PermissionError, match="closed"):
            socket.create_connection((host, 80), timeout=1)
        assert [line.split()[1] for line in CLOSED.tried] == [host]
    finally:
        CLOSED.on = False
        CLOSED.tried.clear()


def test_a_connection_outside_is_refused_and_seen_in_a_process_of_its_own(tmp_path):
    log = tmp_path / "tried"
    code = f"import socket; socket.create_connection(('{ELSEWHERE}', 80), timeout=1)"
    environment = os.environ | closed_environment(log)
    asked = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=False)
    assert b"PermissionError" in asked.stderr
    assert ELSEWHERE in log.read_text(encoding="utf-8")


def test_telemetry_of_the_framework_is_off_by_declaration():
    """Of every app that is made here, and of every kind of it that the framework has."""
    no_switches = {"tracer_provider", "meter_provider", "logger_provider", "exclude"}
    assert set(NO_TELEMETRY) | no_switches == set(TelemetryConfig.__annotations__)
    assert not any(NO_TELEMETRY.values())
    texts = [path.read_text(encoding="utf-8") for path in SOURCE.rglob("*.py")]
    calls = [
        {word.arg: ast.unparse(word.value) for word in node.keywords}
        for text in texts
        if "FastAPI(" in text
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "FastAPI"
    ]
    assert len(calls) >= 2
    assert {call.get("telemetry") for call in calls} == {"NO_TELEMETRY"}
