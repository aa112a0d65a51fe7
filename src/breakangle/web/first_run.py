"""The first time: whether the shop is new, and where to begin."""

from datetime import UTC, datetime

from breakangle.services.example_workshop.workshop import example_folder, load_example
from breakangle.services.records.upkeep import kept_backups
from breakangle.services.workshop.opening import FILE_NAME
from breakangle.storage.connection.identity import noted_identity
from breakangle.web.app import EXAMPLE_PATH
from breakangle.web.options import Options


def first_page(options: Options, with_example: bool) -> str:
    """Return the path to open first: the example workshop's, made if need be, where the shop itself is new."""
    new = options.database_url is None and not (
        (options.folder / FILE_NAME).exists()
        or noted_identity(options.folder)
        or kept_backups(options.folder)
    )
    if not (new and with_example):
        return "/"
    if not example_folder(options.folder).exists():
        load_example(options.folder, datetime.now(UTC))
    return f"{EXAMPLE_PATH}/"
