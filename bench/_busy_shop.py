"""A shop in trouble or at work: backed up while another process writes, killed, taken out and brought in whole."""

import multiprocessing
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from bench._large_shop import picked
from breakangle.services.visits.entries import take_reading
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.copies import make_backup
from breakangle.storage.backup.restoring import restore_backup
from breakangle.storage.exchange.exchange import export_shop
from breakangle.storage.records.entries import entries_of
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.errors import ShopOutOfReachError
from shop_fixtures.killing import killed_rounds, sound
from shop_fixtures.people import GAP, START, later
from shop_fixtures.server import Server, programs

IMPORT = """
import sys, time
from pathlib import Path
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.exchange.exchange import import_shop
shop = shop_at(Path(sys.argv[1]))
start = time.perf_counter()
done = import_shop(shop, Path(sys.argv[2]))
# Not ru_maxrss, which a new process takes over from the one that made it.
most = next(int(line.split()[1]) for line in open('/proc/self/status') if line.startswith('VmHWM'))
print(done.added_count, most / 1024, time.perf_counter() - start)
"""


def _write(folder: Path, url: str | None, visit: str, into: Any, stop: Any) -> None:
    """Take readings until told to stop, telling of each when it is stored and at what time."""
    shop, count = shop_at(folder, url), 0
    while not stop.is_set():
        count += 1
        try:
            key = take_reading(shop, visit, GAP, later(minutes=count)).id
        except ShopOutOfReachError:
            continue
        into.put((time.monotonic(), key))
    shop.close()


def backed_up_while_writing(shop: Shop, url: str | None = None) -> tuple[str, bool]:
    """Return what a backup made while another process writes came to, and whether it is one consistent moment.

    All that was acknowledged before it began must be in it, nothing of what it holds may be without what came before
    it, and the engine's own examination of a shop restored from it must find nothing.
    """
    fork = multiprocessing.get_context("fork")
    visit, told, stop = picked(shop, 1)[0], fork.Queue(), fork.Event()
    before = len(entries_of(shop, visit.id))
    shop.close()
    writer = fork.Process(target=_write, args=(shop.folder, url, visit.id, told, stop))
    writer.start()
    acknowledged = [told.get(timeout=60) for _ in range(3)]
    start = time.monotonic()
    made = make_backup(shop, START)
    took = time.monotonic() - start
    stop.set()
    while writer.is_alive() or not told.empty():
        if not told.empty():
            acknowledged.append(told.get())
        else:
            time.sleep(0.01)
    writer.join()
    copy = shop_at(shop.folder / "restored")
    copy.close()
    restore_backup(copy.folder, made.path, START)
    kept = entries_of(copy, visit.id)
    begun = {key for at, key in acknowledged if at <= start}
    whole = [one.place for one in kept] == list(range(1, len(kept) + 1)) and sound(copy)
    consistent = whole and begun <= {one.id for one in kept}
    size = sum(one.stat().st_size for one in made.path.iterdir() if one.is_file()) / 1e9
    restored = (copy.folder / "shop.db").stat().st_size / 1e9
    copy.close()
    words = (
        f"{size:.2f} GB ({restored:.2f} GB as a file) in {took:.1f} s with opening, checks and count, while another "
        f"process stored {len(acknowledged)} readings; {len(kept) - before} of them in it: "
        f"{'consistent' if consistent else 'NOT CONSISTENT'}"
    )
    return words, consistent


def taken_out_and_in(shop: Shop, folder: Path) -> str:
    """Return what an export of the shop and its import into an empty one took, in time and memory."""
    start = time.perf_counter()
    counts = export_shop(shop, folder / "all.zip")
    took, size = time.perf_counter() - start, (folder / "all.zip").stat().st_size / 1e9
    words = [sys.executable, "-c", IMPORT, str(folder / "into"), str(folder / "all.zip")]
    said = subprocess.run(
        words, check=True, capture_output=True, text=True, env=dict(os.environ)
    ).stdout.split()
    other = shop_at(folder / "into")
    whole = int(said[0]) == sum(counts.values())
    held = (folder / "into" / "shop.db").stat().st_size / 1e9
    export_shop(other, folder / "again.zip")
    same = (folder / "again.zip").read_bytes() == (folder / "all.zip").read_bytes()
    other.close()
    return (
        f"export of {sum(counts.values())} rows ({size:.2f} GB zip, {held:.2f} GB as a file): {took:.0f} s; import "
        f"{'whole' if whole else 'NOT WHOLE'} in {float(said[2]):.0f} s, at most {float(said[1]):.0f} MB of memory in "
        f"all; exported again {'the same to the byte' if same else 'NOT THE SAME'}"
    )


def killed(folder: Path, rounds: int) -> list[str]:
    """Return what so many killed rounds came to, on a file and on a server of their own that is killed as well."""
    found = killed_rounds(folder / "file", rounds=rounds, writers=4, seed=11)
    lines = [
        f"SIGKILL at random moments, SQLite, {rounds} rounds, 4 writers: {found.acknowledged} acknowledged, "
        f"{found.lost} lost, {found.torn} torn, {found.unsound} unsound files"
    ]
    where = programs()
    if where is None:
        return lines
    server = Server(where, careful=True)
    try:
        found = killed_rounds(folder / "server", rounds=rounds, writers=4, seed=12, server=server)
    finally:
        server.remove()
    return [
        *lines,
        f"SIGKILL at random moments, PostgreSQL, {rounds} rounds, 4 writers, the server with all its processes killed "
        f"in {found.server_deaths} of them: {found.acknowledged} acknowledged, {found.lost} lost, {found.torn} torn, "
        f"{found.unsound} unsound databases",
    ]
