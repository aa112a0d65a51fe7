"""What the browser loads besides pages: bundled when the package is built, named by their content."""

import json
from functools import cache
from pathlib import Path

from breakangle.model.errors import InstallError
from breakangle.model.words.speech import tr

FOLDER = Path(__file__).parent / "static"
LIST_NAME = "assets.json"


@cache
def _listed() -> dict[str, str]:
    try:
        return dict(json.loads((FOLDER / LIST_NAME).read_text(encoding="utf-8")))
    except (OSError, ValueError) as cause:
        raise InstallError(
            tr("the screens' scripts were not built"),
            "",
            tr("install again: pip install -e . (it needs pip and the network)"),
        ) from cause


def asset(name: str) -> str:
    """Return the path under /static of the built file that the source `name` became, such as `bench.js`.

    Raises:
        InstallError: the scripts were not built, or there is no such source.
    """
    found = _listed().get(name)
    if found is None:
        raise InstallError(
            tr("there is no built file of {name}", name=name), ", ".join(sorted(_listed())), tr("build again")
        )
    return f"/static/{found}"


def all_assets() -> tuple[str, ...]:
    """Return the paths of every built file."""
    return tuple(f"/static/{one}" for one in sorted(set(_listed().values())))
