"""A closed network for tests: what would connect outside this computer is refused and written down."""

import os
from pathlib import Path

from network_fixtures.sitecustomize import LOG_NAME

HERE = Path(__file__).parent


def closed_environment(log: Path) -> dict[str, str]:
    """Return the environment in which every Python process refuses it, and writes what was tried into `log`."""
    path = os.pathsep.join([str(HERE), *filter(None, [os.environ.get("PYTHONPATH")])])
    return {"PYTHONPATH": path, LOG_NAME: str(log)}
