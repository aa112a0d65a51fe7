"""A backup restored as a trial, somewhere else: only what was restored once is known to be one."""

import tempfile
from pathlib import Path

from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import tr
from breakangle.storage.backup.copies import attached, verified
from breakangle.storage.backup.keeper import GROWING, grown, written
from breakangle.storage.backup.restoring import as_a_new_shop, records_of
from breakangle.storage.files.blobs import sound_blob


def tried(backup: Path) -> str:
    """Return what keeps the backup from being restored, or nothing; the shop itself is not touched."""
    try:
        made = verified(backup)
        with tempfile.TemporaryDirectory(prefix="breakangle-trial-") as folder:
            shop = as_a_new_shop(backup, Path(folder) / "shop")
            try:
                held, told = written(shop), grown({name: made.counts.get(name, 0) for name in GROWING})
            finally:
                shop.close()
        for name in attached(records_of(backup)):
            if name not in made.missing:
                sound_blob(backup, name)
    except BreakangleError as error:
        return str(error).rstrip(".")
    except OSError as error:
        return (error.strerror or str(error)).lower()
    # Devices are not taken over, so that a device revoked since does not come in again.
    lost = told - held - made.counts.get("device", 0)
    return tr("{lost} records of {told} do not come back", lost=lost, told=told) if lost > 0 else ""
