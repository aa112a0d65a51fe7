"""An engine of this very process, for what has nothing to do with where the work is done."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from breakangle.fleet.items import Item
from breakangle.fleet.table import Answer
from breakangle.fleet.work import work


class BrokenOffError(Exception):
    """The run ends here, as when the machine goes off."""


@dataclass
class Here:
    """Does the batches one after the other, in the order given or from the end, and counts what it did."""

    does: Callable[[str, Sequence[Item], Mapping[str, Any]], list[Answer]] = work
    backwards: bool = False
    breaks_after: int | None = None
    done: list[str] = field(default_factory=list)

    def answers(
        self, job: str, batches: Iterator[Sequence[Item]], settings: Mapping[str, Any]
    ) -> Iterator[list[Answer]]:
        """Give each batch's answers."""
        handed = list(batches)
        for place, batch in enumerate(reversed(handed) if self.backwards else handed):
            if place == self.breaks_after:
                raise BrokenOffError
            self.done += [one.name for one in batch]
            yield self.does(job, batch, settings)
