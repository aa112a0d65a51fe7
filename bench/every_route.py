"""Every route of the app, pages and interface alike, asked with what schemathesis makes up: none makes the server fail.

`python -m bench every_route`; `python -m bench.prove every_route` says whether it holds. The pages are not described to
programs; here each is, from its own annotations, so that every parameter and field of a form is made up too.
"""

import shutil
import sys
import tempfile
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import schemathesis
from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from fastapi.routing import APIRoute
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from breakangle.services.example_workshop.workshop import load_example
from breakangle.web import pages
from web_fixtures.process import Served

EXAMPLES, QUICK_EXAMPLES, LONGEST_S = 40, 3, 60.0
SHEETS = 30  # the example workshop has more
LEFT_OUT = ("/remove",)  # takes the example workshop away under all that is asked after


def described() -> dict[str, Any]:
    """Return what every route takes, as OpenAPI: each one copied with its being described."""
    app = FastAPI()
    for router in pages.routers():
        for route in router.routes:
            if isinstance(route, APIRoute) and not route.path.endswith(LEFT_OUT):
                app.add_api_route(route.path, route.endpoint, methods=sorted(route.methods or ()))
    return dict(get_openapi(title="every route", version="1", routes=app.routes))


def asked(url: str, examples: int) -> tuple[Counter[int], int, list[str]]:
    """Return the answers by their code, how many operations there were, and which made the server fail."""
    schema = schemathesis.openapi.from_dict(described())
    schema.config.update(base_url=url)
    codes, operations, failed = Counter[int](), 0, list[str]()
    for result in schema.get_all_operations():
        operation = result.ok()
        operations += 1

        @settings(
            max_examples=examples, deadline=None, derandomize=True, database=None, phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @given(case=operation.as_strategy())
        def tried(case: Any) -> None:
            number = case.path_parameters.get("number")
            if isinstance(number, int) and number % 2:  # half of them of a sheet that is there
                case.path_parameters["number"] = 1 + number % SHEETS
            answer = case.call(timeout=LONGEST_S, allow_redirects=False)
            codes[answer.status_code] += 1
            if answer.status_code >= 500:
                failed.append(
                    f"{case.method} {case.formatted_path}: {answer.status_code} {str(case.body)[:200]}"
                )

        try:
            tried()
        except Unsatisfiable:
            failed.append(f"{operation.method} {operation.path}: nothing could be made up")
    return codes, operations, failed


def prove(quick: bool = False) -> tuple[bool, str]:
    """Return whether no route made the server fail, and the answers by their code."""
    folder = Path(tempfile.mkdtemp(prefix="breakangle-"))
    load_example(folder, datetime.now(UTC))
    served = Served(folder)
    served.start()
    try:
        codes, operations, failed = asked(f"{served.url}/example", QUICK_EXAMPLES if quick else EXAMPLES)
    finally:
        served.stop()
        shutil.rmtree(folder, ignore_errors=True)
    by_code = ", ".join(f"{code}: {count}" for code, count in sorted(codes.items()))
    lines = [f"{operations} operations, {codes.total()} requests ({by_code}); failed: {len(failed)}"]
    return not failed, "\n".join([*lines, *(f"  {one}" for one in failed[:30])])


def report(quick: bool = False) -> str:
    """Return the figures."""
    return prove(quick)[1]
