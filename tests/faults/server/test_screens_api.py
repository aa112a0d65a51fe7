"""The interface for programs, and every form: no input makes the server fail, every answer is as described."""

import shutil
from collections.abc import Iterator
from inspect import signature
from pathlib import Path
from urllib.parse import quote

import httpx2 as httpx
import pytest
import schemathesis
from fastapi.routing import APIRoute
from hypothesis import HealthCheck, given, settings
from schemathesis import Case
from schemathesis.schemas import BaseSchema

from breakangle.services.example_workshop.workshop import example_folder
from breakangle.web import pages
from web_fixtures.process import Served

pytest_plugins = ["web_fixtures.served"]

SINGULAR = ("0", "-1", "1", "27", "2147483648", "99999999999999999999", "1e400", "NaN", "", " ", "%00", "../..", "abc",
            "<script>", "'", "{{7*7}}", "x" * 3000, "\N{RIGHT-TO-LEFT OVERRIDE}", "null", "true")  # fmt: skip


@pytest.fixture(scope="module")
def tried(tmp_path_factory: pytest.TempPathFactory, example_made: Path) -> Iterator[Served]:
    """Return an app of this file's own: odd values are stored in it where they may be."""
    folder = tmp_path_factory.mktemp("tried")
    shutil.copytree(example_made, example_folder(folder))
    one = Served(folder)
    one.start()
    yield one
    one.stop()


@pytest.fixture(scope="module")
def api(tried: Served) -> BaseSchema:
    return schemathesis.openapi.from_url(f"{tried.url}/example/api/openapi.json")


OPERATIONS = [
    ("/api/today", "GET"),
    ("/api/instruments", "GET"),
    ("/api/search", "GET"),
    ("/api/visits/{number}/service", "GET"),
    ("/api/visits/{number}/plan", "GET"),
    ("/api/visits/{number}/prediction", "GET"),
    ("/api/visits/{number}/readings", "POST"),
    ("/api/visits/{number}/work", "POST"),
    ("/api/plan", "POST"),
    ("/api/prediction", "POST"),
]


def test_every_operation_is_tried(api: BaseSchema):
    described = {(one.ok().path, one.ok().method.upper()) for one in api.get_all_operations()}
    assert described == set(OPERATIONS)


@pytest.mark.parametrize(("path", "method"), OPERATIONS)
def test_any_request_is_answered_as_described(path: str, method: str, api: BaseSchema):
    # A body that fits the schema may still be no service: that it is refused is right.
    left_out = schemathesis.checks.CHECKS.get_by_names(["positive_data_acceptance"])

    @settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    @given(case=api[path][method].as_strategy())
    def tried(case: Case) -> None:
        case.validate_response(case.call(), excluded_checks=left_out)

    tried()


def routes() -> list[tuple[str, str, tuple[str, ...]]]:
    """Return every path of the pages with its method and the values to try: one where nothing given is looked at."""
    every = [one for router in pages.routers() for one in router.routes if isinstance(one, APIRoute)]
    return [
        (method, one.path, SINGULAR if set(signature(one.endpoint).parameters) - {"shop"} else SINGULAR[:1])
        for one in every
        for method in sorted(one.methods)
        if method in ("GET", "POST")
    ]


ROUTES = [one for one in routes() if not one[1].endswith("/remove")]


@pytest.mark.parametrize(("method", "path", "values"), ROUTES, ids=[f"{one[0]} {one[1]}" for one in ROUTES])
def test_singular_values_never_make_the_server_fail(
    method: str, path: str, values: tuple[str, ...], tried: Served
):
    failed = []
    with httpx.Client(base_url=f"{tried.url}/example", timeout=60) as client:
        for odd in values:
            there = path
            while "{" in there:
                start, end = there.index("{"), there.index("}")
                there = there[:start] + quote(odd, safe="%") + there[end + 1 :]
            typed = dict.fromkeys(("name", "value", "q", "at", "string", "move", "step", "state", "mm"), odd)
            sent = {"data": typed} if method == "POST" else {"params": typed}
            answer = client.request(method, there, **sent)
            if answer.status_code >= 500:
                failed.append((odd, answer.status_code))
    assert failed == []
