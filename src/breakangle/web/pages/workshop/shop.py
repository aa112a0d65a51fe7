"""The shop: its own heading and money, backups, everything taken along or brought in, and how it is."""

from typing import Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from starlette.background import BackgroundTask
from starlette.responses import FileResponse, PlainTextResponse, Response

from breakangle.services.history.drift import due
from breakangle.services.overview.exports import calendar_text, csv_text, list_names
from breakangle.services.records.upkeep import (
    backup_now,
    bring_in_export,
    examined,
    exported,
    forget_export,
    kept_backups,
    restore_named,
)
from breakangle.services.workshop.prices import DEFAULTS, FOOT_KEYS, set_setting, setting
from breakangle.web.dependencies import TheShop, TheStamp, TheWorkshop, now, to
from breakangle.web.render import page

router = APIRouter(include_in_schema=False)
TIES = {"text/csv": "csv", "text/calendar": "ics"}


@router.get("/shop")
def shop_page(request: Request, shop: TheShop) -> Response:
    """Show what there is to look after."""
    del shop
    return page(request, "shop.html", lists=list_names())


@router.get("/shop/health")
def health_page(request: Request, shop: TheShop) -> Response:
    """Show how the shop is: everything is looked at, which takes a while in a large one."""
    found = examined(shop, now())
    part = "hx-request" in request.headers
    return page(request, "_shop_health.html" if part else "shop_health.html", found=found)


@router.get("/shop/settings")
def settings_page(request: Request, shop: TheShop) -> Response:
    """Show the shop's settings."""
    settings = {name: setting(shop, name) for name in DEFAULTS}
    return page(request, "shop_settings.html", settings=settings, foot_keys=FOOT_KEYS)


@router.post("/shop/settings")
def keep_setting(
    request: Request,
    shop: TheShop,
    stamp: TheStamp,
    name: Annotated[str, Form()],
    value: Annotated[str, Form()] = "",
) -> Response:
    """Store one setting."""
    set_setting(shop, name, value.strip(), stamp)
    return to(request, "/shop/settings")


@router.get("/shop/backups")
def backups_page(request: Request, shop: TheShop) -> Response:
    """Show the backups, newest first."""
    return page(request, "shop_backups.html", backups=kept_backups(shop.folder))


@router.post("/shop/backups")
def make_backup(request: Request, shop: TheShop) -> Response:
    """Make a backup now."""
    backup_now(shop, now())
    return to(request, "/shop/backups")


@router.post("/shop/backups/{name}/restore")
def put_back(request: Request, workshop: TheWorkshop, name: str) -> Response:
    """Put a backup in the place of the shop; what was there is kept beside it."""
    workshop.replaced(lambda: restore_named(workshop.folder, name, now(), workshop.database_url))
    return to(request, "/")


@router.post("/shop/restore")
def bring_in(request: Request, shop: TheShop, backup: Annotated[UploadFile, File()]) -> Response:
    """Merge an uploaded export of a whole shop into this one."""
    merged = bring_in_export(shop, backup.file)
    return page(request, "shop_brought_in.html", merged=merged)


@router.get("/shop/export.zip")
def take_along(shop: TheShop) -> Response:
    """Send the whole shop as one file."""
    path = exported(shop)
    done = BackgroundTask(forget_export, path)
    return FileResponse(path, media_type="application/zip", filename="shop.zip", background=done)


@router.get("/lists/{name}.csv")
def list_as_csv(shop: TheShop, name: str) -> Response:
    """Send a list for a spreadsheet."""
    return _sent(csv_text(shop, name), "text/csv", name)


@router.get("/due.ics")
def due_as_calendar(shop: TheShop) -> Response:
    """Send what is due, for a calendar."""
    return _sent(calendar_text(due(shop), now()), "text/calendar", "due")


def _sent(text: str, kind: str, name: str) -> Response:
    told = {"content-disposition": f'attachment; filename="{name}.{TIES[kind]}"'}
    return PlainTextResponse(text, media_type=kind, headers=told)
