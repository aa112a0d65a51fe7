"""What leaves this room: frozen records, one class for each table that people know of."""

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal


@dataclass(frozen=True, kw_only=True)
class Edited:
    """What every edited record carries: its name, version, who and when; `deleted_at` where it is deleted."""

    id: str
    version: int
    created_at: datetime
    created_by: str
    changed_at: datetime
    changed_by: str
    deleted_at: datetime | None


@dataclass(frozen=True, kw_only=True)
class Owner(Edited):
    """A person who owns instruments."""

    name: str
    contact: str
    notes: str
    hand: str | None = None


@dataclass(frozen=True, kw_only=True)
class InstrumentRecord(Edited):
    """An instrument of the shop; `body` is the service file's instrument as JSON, strung as it is now."""

    owner_id: str | None
    name: str
    kind: str
    body: str
    targets: str | None
    notes: str
    playing_hours_per_week: float | None
    strings_changed_at: datetime | None
    hand: str | None = None


@dataclass(frozen=True, kw_only=True)
class Visit(Edited):
    """One visit; `body` is its service file as JSON without readings and work, `number` its sheet's number."""

    instrument_id: str
    number: int
    state: str
    body: str
    complaint: str
    notes: str
    humidity_percent: float | None
    temperature_c: float | None
    opened_at: datetime
    handed_back_at: datetime | None
    moved_at: datetime | None
    promised_on: str | None = None
    owner_words: str | None = None
    closed_at: datetime | None = None
    amending: str | None = None


@dataclass(frozen=True, kw_only=True)
class Gauge(Edited):
    """A gauge; `spread` is one standard deviation of what it reads, in the unit of its quantity."""

    name: str
    quantity: str
    spread: float | None
    notes: str


@dataclass(frozen=True, kw_only=True)
class Stock(Edited):
    """Something on the shelf, such as a set of strings; `body` is JSON about it."""

    words: str
    body: str
    held_count: int
    least_count: int


@dataclass(frozen=True, kw_only=True)
class Price(Edited):
    """One line of the shop's price list: labour or part."""

    kind: str
    words: str
    amount: Decimal


@dataclass(frozen=True, kw_only=True)
class Line(Edited):
    """One line of a visit's estimate or bill; `amount` is for one."""

    visit_id: str
    kind: str
    words: str
    quantity: Decimal
    amount: Decimal


@dataclass(frozen=True, kw_only=True)
class Attachment(Edited):
    """A recording or photograph; its bytes lie beside the database under `hash`."""

    instrument_id: str
    visit_id: str | None
    kind: str
    name: str
    media_type: str
    hash: str
    size_bytes: int
    caption: str | None = None
    marks: str | None = None
    shown: str | None = None
    pair_id: str | None = None


@dataclass(frozen=True, kw_only=True)
class Closing(Edited):
    """A visit as it was handed back, or amended for a reason; `body` is JSON: what was read, done, expected, said.

    The finished sheet lies beside the database, as a PDF and as a page, each under the hash of its bytes. `number`
    counts from 1 in each visit; the first carries no reason.
    """

    visit_id: str
    number: int
    reason: str
    signed_by: str
    body: str
    pdf_hash: str
    html_hash: str


@dataclass(frozen=True, kw_only=True)
class Setting(Edited):
    """One of the shop's settings, by its name as `id`."""

    value: str


@dataclass(frozen=True, kw_only=True)
class Device(Edited):
    """A paired device and what it may do; of its token only the hash is kept. A deleted one is revoked.

    `person` is who uses it: all that is stored from it carries that name.
    """

    name: str
    role: str
    token_hash: str = field(repr=False)
    last_seen_at: datetime | None
    person: str | None = None


@dataclass(frozen=True, kw_only=True)
class Procedure(Edited):
    """A procedure of the shop's own, or one it has edited; `body` is JSON."""

    name: str
    body: str


@dataclass(frozen=True, kw_only=True)
class Run(Edited):
    """A visit's way through a procedure; `body` is JSON: where the person is, what is done or left out, timers."""

    visit_id: str
    procedure: str
    body: str


@dataclass(frozen=True, kw_only=True)
class Used(Edited):
    """Strings or parts that a visit used, from the shelf or not; `amount` is for one."""

    visit_id: str
    stock_id: str | None
    words: str
    count: int
    amount: Decimal | None


@dataclass(frozen=True, kw_only=True)
class Pairing:
    """A code that pairs one device once; of the code only the hash is kept."""

    code_hash: str = field(repr=False)
    role: str
    expires_at: datetime
    used_at: datetime | None
    made_by: str
    tries: int


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A reading or an adjustment at its place in the visit; `body` is JSON, None where it was withdrawn.

    `place` counts entries as they were first made; `stands` is a number between two places for one entered late.
    `entered_at` says when, where it was entered later than it was `taken_at`.
    """

    id: str
    visit_id: str
    place: int
    kind: str
    body: str | None
    supersedes: str | None
    reason: str | None
    taken_at: datetime
    taken_by: str
    gauge_id: str | None
    stands: float | None = None
    entered_at: datetime | None = None

    @property
    def order(self) -> float:
        """Return where it stands in the order of the work."""
        return float(self.place) if self.stands is None else self.stands
