"""What Dask has a worker do as it begins (its `preload`): Ctrl+C at a terminal reaches every process of a run.

Who began the workers hears it and ends them; one that heard it itself would print where it was, in the middle of what a
person reads.
"""

import signal
from typing import Any


def dask_setup(worker: Any) -> None:
    """Leave interruptions to the process that began this one."""
    del worker
    signal.signal(signal.SIGINT, signal.SIG_IGN)
