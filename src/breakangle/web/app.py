"""The whole app: the door, the files, and two shops side by side, the user's own and the example."""

import re
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from anyio.to_thread import current_default_thread_limiter
from fastapi import FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from breakangle import __version__
from breakangle.services.example_workshop.workshop import example_folder
from breakangle.services.plans.apart import PLANNER, made_plan
from breakangle.services.service_files.example import example_service
from breakangle.services.service_files.pictures import elevation_of
from breakangle.services.service_files.service import estimate_service, plan_service
from breakangle.services.workers.queue import THREADS
from breakangle.web import entry_points, pages
from breakangle.web.assets import FOLDER
from breakangle.web.guard import Guard
from breakangle.web.limits.whole_forms import WholeForms
from breakangle.web.options import Options
from breakangle.web.page_cache.answers import PageCache
from breakangle.web.refusals import add_refusals
from breakangle.web.workshops import Workshop

if TYPE_CHECKING:
    from fastapi.telemetry import TelemetryConfig

EXAMPLE_PATH, MOST_WARMING_S = "/example", 10.0
SMALLEST_BYTES, LEVEL = 500, 4  # of text, beyond this level mostly time is spent
# The framework's own measuring of itself, every kind of it: nothing is gathered, nothing could be sent anywhere.
NO_TELEMETRY: Final["TelemetryConfig"] = {
    "tracing": False,
    "metrics": False,
    "logs": False,
    "operation_spans": False,
    "auto_configure": False,
}
A_YEAR = "public, max-age=31536000, immutable"


class BuiltFiles(StaticFiles):
    """Files named by their content: a browser may keep them for good."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Return the file with leave to keep it."""
        answer = await super().get_response(path, scope)
        if answer.status_code == 200 and re.search(r"-[A-Z0-9]{8}\.", path):
            answer.headers["cache-control"] = A_YEAR
        return answer


def make_app(options: Options) -> FastAPI:
    """Return the app as `options` ask for; nothing of a shop is opened until a page needs it."""
    own = Workshop(options.folder, options.database_url)
    example = Workshop(example_folder(options.folder), example=True)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        current_default_thread_limiter().total_tokens = THREADS
        build_forms(
            app, *(at.app for at in app.routes if isinstance(at, Mount) and isinstance(at.app, FastAPI))
        )
        warming = threading.Thread(target=warm, daemon=True)
        warming.start()
        own.keeper.start()
        yield
        await run_in_threadpool(own.keeper.stop)
        if own.lease is not None:
            own.lease.end()
        await run_in_threadpool(PLANNER.end)
        warming.join(MOST_WARMING_S)  # a solver that is at work while Python ends would end it by a crash
        own.close()
        example.close()

    whole = FastAPI(title="Breakangle", version=__version__, lifespan=lifespan, openapi_url=None, middleware=[
        Middleware(WholeForms),
        Middleware(Guard, options=options, device_of=entry_points.device_finder(own)),
        Middleware(GZipMiddleware, minimum_size=SMALLEST_BYTES, compresslevel=LEVEL),
        Middleware(PageCache, workshops={EXAMPLE_PATH: example, "": own}),
    ], telemetry=NO_TELEMETRY)  # fmt: skip
    whole.state.options, whole.state.workshop, whole.state.example = options, own, example
    whole.include_router(entry_points.router)
    add_refusals(whole)
    whole.router.routes.append(Mount("/static", BuiltFiles(directory=Path(FOLDER), check_dir=False)))
    whole.mount(EXAMPLE_PATH, shop_app(whole, example))
    whole.mount("/", shop_app(whole, own))
    return whole


def build_forms(*apps: FastAPI) -> None:
    """Build what checks each form and each service file, before anybody asks and while this is the only thread.

    It would else be built when first asked for: pydantic does not promise that two threads may build at a time, and a
    first page asked for while `warm` was reading its service file once failed so.
    """
    example_service()
    for app in apps:
        app.openapi()


def warm() -> None:
    """Load what the first plan and drawing will need, while the first page is being looked at."""
    service = example_service()
    now = estimate_service(service)
    elevation_of(service, plan=plan_service(service), now=now)
    made_plan(service, now)  # which begins the process for plans


def shop_app(whole: FastAPI, workshop: Workshop) -> FastAPI:
    """Return the pages of one shop."""
    app = FastAPI(
        title="Breakangle",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        middleware=[
            Middleware(GZipMiddleware, minimum_size=SMALLEST_BYTES, compresslevel=LEVEL),
        ],
        telemetry=NO_TELEMETRY,
    )
    app.state.workshop, app.state.options = workshop, whole.state.options
    app.state.own, app.state.example = whole.state.workshop, whole.state.example
    for router in pages.routers():
        app.include_router(router)
    add_refusals(app)
    return app
