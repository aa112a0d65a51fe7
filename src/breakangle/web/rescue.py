"""When the shop cannot be opened: the way back to its newest good backup, which opens no shop itself."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

from breakangle.model.errors import BreakangleError
from breakangle.services.records.upkeep import kept_backups, why_not_good
from breakangle.web.render import page
from breakangle.web.workshops import Workshop

MOST_CHECKED = 3  # opening and counting a large one takes seconds


@dataclass(frozen=True)
class Offered:
    """A backup that may be put back: its name, its date, its rows, and what is wrong with it (None: not looked at)."""

    name: str
    made_at: datetime
    rows: int
    wrong: str | None


def offered(folder: Path) -> tuple[Offered, ...]:
    """Return the backups, good ones first, newest first; only as many are looked through as it takes to find one."""
    rows, good = list[Offered](), False
    for at, backup in enumerate(kept_backups(folder)):
        wrong = why_not_good(backup.path) if not good and at < MOST_CHECKED else None
        good = good or wrong == ""
        rows.append(Offered(backup.path.name, backup.made_at, sum(backup.counts.values()), wrong))
    return tuple(sorted(rows, key=lambda row: bool(row.wrong)))


def wanted(request: Request) -> bool:
    """Return whether it is a person who looks at a page, not a program or a part of a page."""
    return request.method == "GET" and "/api/" not in request.url.path and "hx-request" not in request.headers


def rescue_page(request: Request, workshop: Workshop, error: BreakangleError) -> Response:
    """Return the page that says what is wrong and lists the backups, with a button to put one back."""
    return page(
        request, "rescue.html", 503, error=error, folder=workshop.folder, backups=offered(workshop.folder)
    )
