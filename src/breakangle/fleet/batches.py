"""How many items are handed to a worker at once: as many as take so long, by what items have taken so far.

What is handed out costs some milliseconds each time, so a task takes a second and more; it does not take much longer,
so that progress is told, little is lost with a worker that dies, and workers end together.
"""

from collections import deque
from collections.abc import Iterator, Sequence

from breakangle.fleet.items import Item
from breakangle.fleet.table import Answer

TASK_S = 1.5  # what a batch is to take
FIRST, MOST = 4, 500  # items: before anything is known of them, and at most
RECENT = 12  # batches that tell: a worker's first is slower, it loads the program


class Batches:
    """Items in batches of their order; each is measured out when it is asked for."""

    def __init__(self, items: Sequence[Item], size: int | None = None) -> None:
        """Begin with these items; a size holds for every batch, None measures each out."""
        self._items, self._size = items, size
        self._answered = 0
        self._recent = deque[tuple[int, float]](maxlen=RECENT)

    def heard(self, answers: Sequence[Answer]) -> None:
        """Learn from what came of a batch how long its items take."""
        self._answered += len(answers)
        self._recent.append((len(answers), sum(one.seconds for one in answers)))

    def size(self) -> int:
        """Return how many items the next batch has; never more than twice what was answered so far."""
        if self._size is not None:
            return self._size
        if not self._answered:
            return FIRST
        each_s = sum(seconds for _, seconds in self._recent) / sum(count for count, _ in self._recent)
        fitting = MOST if each_s <= TASK_S / MOST else round(TASK_S / each_s)
        return max(1, min(fitting, 2 * self._answered, MOST))

    def __iter__(self) -> Iterator[Sequence[Item]]:
        """Give the batches."""
        at = 0
        while at < len(self._items):
            size = self.size()
            yield self._items[at : at + size]
            at += size
