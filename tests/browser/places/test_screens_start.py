"""What is there before the first page is asked for."""

from pathlib import Path

from pydantic._internal import _generate_schema
from starlette.testclient import TestClient

from breakangle.web.app import make_app, warm
from breakangle.web.options import Options


def test_nothing_that_checks_forms_is_built_once_pages_are_served(tmp_path: Path, monkeypatch):
    """Two threads that build at a time once broke a first page; pydantic says nowhere that they may."""
    app = make_app(Options(tmp_path, port=8320))
    with TestClient(app, base_url="http://127.0.0.1:8320", client=("127.0.0.1", 5000)) as client:
        monkeypatch.setattr(_generate_schema, "GenerateSchema", None)
        warm()
        for path in ("/", "/pair", "/visits/new", "/shop", "/api/today", "/api/openapi.json"):
            assert client.get(path).status_code == 200, path
        assert client.get("/example/").status_code == 404, "it is not made yet, and says so"
        assert client.post("/visits/new", data={"kind": "electric-guitar"}).status_code == 422
