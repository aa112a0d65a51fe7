"""Shop, Devices: what may come in from the network, codes that pair, and sending a device away."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from markupsafe import Markup
from starlette.responses import Response

from breakangle.services.workshop.devices import devices, make_pairing_code, revoke_device
from breakangle.storage.records.devices import holds_until
from breakangle.storage.records.store import Shop
from breakangle.web.dependencies import TheStamp, now, to
from breakangle.web.options import Options
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
ROLES = ("bench", "read-only", "owner")


def _own(request: Request) -> Shop:
    """Return the user's own shop: devices belong to it, whichever shop is looked at."""
    found: Shop = request.app.state.own.shop()
    return found


@router.get("/shop/devices")
def devices_page(request: Request) -> Response:
    """Show the devices that are let in."""
    return _shown(request)


@router.post("/shop/devices")
def new_code(request: Request, stamp: TheStamp, role: Annotated[str, Form()] = "bench") -> Response:
    """Make a code that pairs one device, and show it this once."""
    code = make_pairing_code(_own(request), stamp, role, now())
    return _shown(request, code=code, role=role)


@router.post("/shop/devices/{device_id}/revoke")
def revoke(request: Request, stamp: TheStamp, device_id: str) -> Response:
    """Let a device in no more."""
    revoke_device(_own(request), device_id, stamp)
    return to(request, "/shop/devices")


def _shown(request: Request, code: str = "", role: str = "bench") -> Response:
    options: Options = request.app.state.options
    addresses = options.network_addresses
    picture = _picture(f"{addresses[0]}/pair?code={code}") if code and addresses else None
    return page(
        request, "devices.html", devices=devices(_own(request)), code=code, role=role, roles=ROLES,
        until=holds_until, addresses=addresses, picture=picture, options=options,
    )  # fmt: skip


def _picture(text: str) -> Markup:
    """Return a code to scan as SVG, dark on white whatever the theme."""
    import segno

    drawn = segno.make(text, micro=False)
    return Markup(drawn.svg_inline(border=4, dark="#000", light="#fff", omitsize=True))
