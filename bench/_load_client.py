"""The clients of a load: requests by a fixed timetable, or without pause; each latency counted from its due time."""

import asyncio
import random
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import count

import httpx2

PAGE, PLAN, WRITE = "pages", "plans", "writes"
LONGEST_S = 120.0
BUSY = 503
ASKED = "/readings/asked"


@dataclass
class Target:
    """What a request may be about: a visit on the bench, its instrument, and a reading that stands on it."""

    number: int
    instrument: str
    box: str
    value: float
    seen: str
    lock: asyncio.Lock = field(default_factory=asyncio.Lock)


@dataclass(frozen=True)
class Answered:
    """One request: its kind, what it was answered with (0: nothing), and how long after its due time."""

    kind: str
    path: str
    status: int
    after_s: float


class Load:
    """Requests to one server, drawn from a seed: the same for every server that is measured."""

    def __init__(
        self, port: int, targets: list[Target], last_number: int, words: list[str], seed: int
    ) -> None:
        """Keep whom to ask for what."""
        self.chance = random.Random(seed)
        self.targets, self.last_number, self.words = targets, last_number, words
        self.turns = count()
        self.followed: list[asyncio.Task[Answered]] = []  # what an answer to a write made the page ask for
        limits = httpx2.Limits(max_connections=200, max_keepalive_connections=200)
        self.client = httpx2.AsyncClient(
            base_url=f"http://127.0.0.1:{port}", timeout=LONGEST_S, limits=limits
        )

    def page(self) -> str:
        """Return a page's address: four in five of what is on the bench, lists and old sheets between."""
        one = self.chance.choice(self.targets)
        pages = {
            f"/visits/{one.number}": 7,
            f"/visits/{one.number}/readings": 6,
            f"/instruments/{one.instrument}": 4,
            f"/visits/{one.number}/entries": 2,
            "/": 4,
            f"/instruments?at={self.chance.randint(1, 5)}": 2,
            f"/search?q={self.chance.choice(self.words)}": 2,
            f"/visits/{self.chance.randint(1, self.last_number)}": 3,
        }
        return self.chance.choices(list(pages), list(pages.values()))[0]

    def plan(self) -> str:
        """Return the address of the plan of a visit on the bench."""
        return f"/visits/{self.chance.choice(self.targets).number}/plan"

    async def ask(self, kind: str, due_s: float) -> Answered:
        """Send one request, and return how it was answered."""
        path, status = "", 0
        try:
            if kind == WRITE:
                path, status = await self._write()
            else:
                path = self.page() if kind == PAGE else self.plan()
                status = (await self.client.get(path)).status_code
        except httpx2.HTTPError:
            status = 0
        return Answered(kind, path, status, time.monotonic() - due_s)

    async def _write(self) -> tuple[str, int]:
        """Read one box again: of one visit one reading at a time, as one pair of hands does."""
        one = self.targets[next(self.turns) % len(self.targets)]
        path = f"/visits/{one.number}/readings/one"
        async with one.lock:
            value = one.value + self.chance.choice((-0.02, -0.01, 0.01, 0.02, 0.03))
            form = {"box": one.box, "text": f"{value:.3f} mm", "seen": one.seen}
            answer = await self.client.post(path, data=form)
            one.seen = answer.headers.get("x-entry", one.seen)
        if ASKED in answer.text:
            asked = self._followed(f"/visits/{one.number}{ASKED}", time.monotonic())
            self.followed.append(asyncio.create_task(asked))
        return path, answer.status_code

    async def _followed(self, path: str, due_s: float) -> Answered:
        """Ask for what a page asks for by itself once a reading is stored."""
        try:
            status = (await self.client.get(path)).status_code
        except httpx2.HTTPError:
            status = 0
        return Answered(PLAN, path, status, time.monotonic() - due_s)


async def by_timetable(load: Load, rates: dict[str, float], for_s: float) -> list[Answered]:
    """Send so many requests of each kind a second, whether or not earlier ones are answered."""
    due = sorted((at, kind) for kind, rate in rates.items() for at in _moments(rate, for_s))
    tasks, began = [], time.monotonic()
    for at, kind in due:
        await asyncio.sleep(max(began + at - time.monotonic(), 0.0))
        tasks.append(asyncio.create_task(load.ask(kind, began + at)))
    return [*await asyncio.gather(*tasks), *await asyncio.gather(*load.followed)]


def _moments(rate: float, for_s: float) -> Iterator[float]:
    """Yield when requests of one kind are due, evenly; kinds of equal rate do not come at the same moments."""
    for number in range(int(rate * for_s)):
        yield (number + 1.0 / (1.0 + rate)) / rate


async def without_pause(load: Load, readers: int, writers: int, for_s: float) -> list[Answered]:
    """Let so many readers and writers each send its next request as soon as the last is answered."""
    until = time.monotonic() + for_s
    answers = list[Answered]()

    async def work(writes: bool) -> None:
        while (now_s := time.monotonic()) < until:
            kind = WRITE if writes else PLAN if load.chance.random() < 2 / 32 else PAGE
            answers.append(await load.ask(kind, now_s))

    await asyncio.gather(*(work(number < writers) for number in range(readers + writers)))
    return answers + list(await asyncio.gather(*load.followed))
