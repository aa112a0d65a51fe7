"""Backups that earlier versions made."""

import json
from hashlib import sha256

from breakangle.services.workshop.opening import shop_at
from breakangle.storage.backup.copies import counted, verified
from breakangle.storage.backup.restoring import restore_backup
from breakangle.storage.connection.opening import engine_for, upgrade
from breakangle.storage.records.records import Visit
from shop_fixtures.people import START


def test_a_backup_of_the_second_schema_is_still_one(tmp_path):
    """It counts fewer tables, and says nothing of how its records are called."""
    folder = tmp_path / "2026-12-01T090000Z"
    folder.mkdir()
    engine = engine_for(folder / "shop.db")
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        upgrade(connection, "0002")
    engine.dispose()
    told = {"format": "breakangle/backup/1", "made_at": "2026-12-01T09:00:00.000000Z", "blobs": 0}
    told |= {
        "counts": counted(folder / "shop.db"),
        "sha256": sha256((folder / "shop.db").read_bytes()).hexdigest(),
    }
    (folder / "backup.json").write_text(json.dumps(told), encoding="utf-8")
    assert "device" not in verified(folder).counts
    shop = shop_at(tmp_path / "shop")
    shop.close()
    restore_backup(shop.folder, folder, START)
    assert shop.every(Visit) == ()
    shop.close()
