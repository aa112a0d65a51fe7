"""What is worked out once, by one thread, in its turn; the others who want it wait for that one.

A turn is taken before any lock, so whoever holds a lock has a turn, and nobody waits in a circle.
(`functools.cached_property` of Python 3.11 holds one lock for all instances: every plan would wait for every other.)
"""

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, Generic, TypeVar, overload

from breakangle.model.words.speech import spoken_language
from breakangle.services.workers.queue import PLANS

Owner = TypeVar("Owner")
Value = TypeVar("Value")
LOCK = "_once_lock"


class Once(Generic[Owner, Value]):
    """A property that is worked out when it is first asked for."""

    def __init__(self, make: Callable[[Owner], Value]) -> None:
        """Keep how it is made."""
        self._make, self.__doc__ = make, make.__doc__
        self._name = make.__name__

    def known(self, owner: Owner) -> bool:
        """Return whether it is worked out already."""
        return self._name in vars(owner)

    @overload
    def __get__(self, owner: None, kind: type) -> "Once[Owner, Value]": ...
    @overload
    def __get__(self, owner: Owner, kind: type) -> Value: ...
    def __get__(self, owner: Owner | None, kind: type) -> Any:
        """Return the value."""
        if owner is None:
            return self
        kept = owner.__dict__
        if self._name not in kept:
            with PLANS.turn(), kept.setdefault(LOCK, threading.RLock()):
                if self._name not in kept:
                    kept[self._name] = self._make(owner)
        return kept[self._name]


class Lately:
    """What was made lately, by what it was made from; the longest unused goes first."""

    def __init__(self, most: int) -> None:
        """Begin with nothing; at most so many are kept."""
        self._most, self._lock = most, threading.Lock()
        self._made: OrderedDict[Any, Any] = OrderedDict()
        self._making: dict[Any, threading.Lock] = {}

    def get(self, key: Any, make: Callable[[], Value]) -> Value:
        """Return what was made under `key`, or make it; of those who ask at once one makes it.

        Raises:
            BusyError: it is not made, and too many wait already.
        """
        key, missing = (spoken_language(), key), object()  # what is made is in words, too
        made: Any = self._known(key, missing)
        if made is not missing:
            return made  # type: ignore[no-any-return]
        with PLANS.turn():
            with self._lock:
                making = self._making.setdefault(key, threading.Lock())
            try:
                with making:
                    made = self._known(key, missing)
                    if made is missing:
                        made = self._keep(key, make())
            finally:
                with self._lock:
                    self._making.pop(key, None)
        return made  # type: ignore[no-any-return]

    def at_once(self, key: Any, make: Callable[[], Value]) -> Value:
        """Return what was made under `key`, or make it here and now, for whoever can wait for no turn."""
        key, missing = (spoken_language(), key), object()
        made: Any = self._known(key, missing)
        return self._keep(key, make()) if made is missing else made

    def _known(self, key: Any, missing: object) -> object:
        with self._lock:
            if key in self._made:
                self._made.move_to_end(key)
            return self._made.get(key, missing)

    def _keep(self, key: Any, made: Value) -> Value:
        with self._lock:
            self._made[key] = made
            while len(self._made) > self._most:
                self._made.popitem(last=False)
        return made
