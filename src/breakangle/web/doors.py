"""What belongs to the server and to no shop: pairing a device, and what makes the app installable."""

from fastapi import APIRouter, Request
from starlette.responses import FileResponse, JSONResponse, Response

from breakangle.web.assets import FOLDER, asset
from breakangle.web.guard import DeviceOf, KnownDevice
from breakangle.web.render import page
from breakangle.web.workshops import Workshop

router = APIRouter(include_in_schema=False)


def device_finder(own: Workshop) -> DeviceOf:
    """Return what tells the door which paired device a token belongs to."""

    def device_of(token: str) -> KnownDevice | None:
        del own
        return None

    return device_of


@router.get("/pair")
def pair_page(request: Request) -> Response:
    """Show the page on which a device is paired."""
    return page(request, "pair.html")


@router.get("/sw.js")
def service_worker() -> Response:
    """Return the script that keeps pages for when the bench does not answer; it is asked for anew each time."""
    path = FOLDER / asset("sw.js").removeprefix("/static/")
    return FileResponse(path, media_type="text/javascript", headers={"cache-control": "no-cache"})


@router.get("/app.webmanifest")
def manifest() -> Response:
    """Return what lets a phone or tablet keep the app on its first screen."""
    icons = [
        {"src": asset(f"icon-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"}
        for size in (192, 512)
    ]
    told = {
        "name": "Breakangle",
        "short_name": "Breakangle",
        "start_url": "/",
        "display": "standalone",
        "background_color": "#f6f3ec",
        "theme_color": "#1f4b48",
        "icons": icons,
    }
    return JSONResponse(told, media_type="application/manifest+json")
