"""How often somebody may try: so many within a while, for each address and for all together."""

import threading
import time
from collections import deque
from collections.abc import Callable

MOST_EACH, WITHIN_S = 5, 60.0
# With 30 signs in 8 places and codes that live 10 minutes: 10 x 300 / 30^8 = 5e-9 that a stranger hits one (derived).
# So many that strangers at sixty addresses are needed to keep the owner's own device from being looked at.
MOST_ALL = 300
MOST_ADDRESSES = 1000


class Tries:
    """Counts tries; those that are too many are refused without being looked at."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        """Begin with none."""
        self._clock, self._lock = clock, threading.Lock()
        self._all: deque[float] = deque()
        self._each: dict[str, deque[float]] = {}

    def allowed(self, address: str) -> bool:
        """Count a try from `address`, and return whether it is one of the few that are looked at."""
        now = self._clock()
        with self._lock:
            if len(self._each) >= MOST_ADDRESSES:
                self._each = {one: times for one, times in self._each.items() if times[-1] > now - WITHIN_S}
            own = self._each.get(address, deque())
            for times in (own, self._all):
                while times and times[0] <= now - WITHIN_S:
                    times.popleft()
            if len(own) >= MOST_EACH or len(self._all) >= MOST_ALL:
                return False  # and nothing is kept of an address that was never looked at
            own.append(now)
            self._each[address] = own
            self._all.append(now)
            return True
