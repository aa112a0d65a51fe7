"""Many processes writing to one shop at once."""

import multiprocessing
from pathlib import Path
from typing import Any

from breakangle.services.visits.entries import take_reading
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.records.entries import entries_of, standing
from breakangle.storage.records.records import Visit
from breakangle.storage.schema.errors import EditedMeanwhileError
from shop_fixtures.people import GAP, later


def _write(folder: Path, url: str | None, visit_id: str, writer: int, times: int, answers: Any) -> None:
    """Take readings of one visit, and add one to the number in its notes, choosing anew when another was first."""
    shop, met = shop_at(folder, url), 0
    for count in range(times):
        stamp = later(minutes=count, who=f"writer {writer}")
        take_reading(shop, visit_id, GAP | {"mm": 1.0 + writer / 100 + count / 10_000}, stamp)
        while True:
            seen = shop.get(Visit, visit_id)
            try:
                shop.change(seen, stamp, notes=str(int(seen.notes or 0) + 1))
                break
            except EditedMeanwhileError:
                met += 1
    shop.close()
    answers.put(met)


def crowd(folder: Path, url: str | None, visit_id: str, writers: int, times: int) -> tuple[int, int, int]:
    """Return how many readings and updates are missing after all have written, and how often two met."""
    fork = multiprocessing.get_context("fork")
    answers = fork.Queue()
    children = [
        fork.Process(target=_write, args=(folder, url, visit_id, number, times, answers))
        for number in range(writers)
    ]
    for child in children:
        child.start()
    met = sum(answers.get(timeout=120) for _ in children)
    for child in children:
        child.join()
    shop = shop_at(folder, url)
    kept = len(standing(entries_of(shop, visit_id)))
    counted = int(shop.get(Visit, visit_id).notes)
    shop.close()
    return writers * times - kept, writers * times - counted, met
