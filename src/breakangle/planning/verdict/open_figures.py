"""Figures that cannot be spoken of yet: unread, not known well enough, or doubted for another reading."""

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from breakangle.model.reading import Reading, Target
from breakangle.model.service import Service
from breakangle.model.words.message import Message
from breakangle.model.words.said import strings_in_words
from breakangle.planning.estimate.estimate import Estimate, Surprise
from breakangle.planning.estimate.target_state import Sight, place_read
from breakangle.planning.kinds.kind import TargetKind
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.kinds.registry import reading_kind, target_kind
from breakangle.planning.solve.unreached import Unreached
from breakangle.planning.verdict.as_read import taken, was_read
from breakangle.planning.verdict.moved import Worked

# Of a gauge: two readings of one place farther apart do not say the same; common practice, no source.
AGREE_SPREADS = 3.0


@dataclass(frozen=True)
class OpenFigure:
    """A wanted figure that cannot be spoken of: its target, and why: `unread`, `unsure` or `doubted`."""

    target: Target
    why: str

    @property
    def kind(self) -> TargetKind:
        """Return the kind of the target."""
        return target_kind(self.target)

    @property
    def name(self) -> str:
        """Return what the trade calls the figure, without its string."""
        return str(self.kind.role(self.target)[0])


def doubted_readings(service: Service, now: Estimate, worked: Worked) -> tuple[Surprise, ...]:
    """Return the readings that surprise and that no other reading of their place has confirmed or replaced since.

    A crown read out of line always surprises: it is doubted only where the other readings contradict it, and nobody
    has read it under another string.
    """
    frets = Counter(one.fret for one in service.readings if isinstance(one, Crown))
    found = []
    for one in now.surprises:
        reading = one.reading
        if isinstance(reading, Crown) and (not one.contradicted or frets[reading.fret] > 1):
            continue
        if not answered(reading, service, now) and not _worked_on(reading, worked):
            found.append(one)
    return tuple(found)


def answered(reading: Reading, service: Service, now: Estimate) -> bool:
    """Return whether the place was read again after `reading`, or another reading of it says the same."""
    place, kind = place_read(reading), reading_kind(reading)
    same = [one for one in service.readings if place_read(one) == place]
    at = next(index for index, one in enumerate(same) if one == reading)
    value = kind.value(reading, now.board)
    return any(
        index != at
        and (
            (one.after, index) > (reading.after, at)
            or abs(kind.value(one, now.board) - value) <= AGREE_SPREADS * kind.spread(one)
        )
        for index, one in enumerate(same)
    )


def _worked_on(reading: Reading, worked: Worked) -> bool:
    """Return whether work since has moved a reading's place farther than a surprise of its kind is large."""
    moved, size = worked.since(reading), reading_kind(reading).surprise
    return moved.surely_up(size) or moved.surely_down(size)


def open_figures(
    service: Service, sight: Sight, doubted: Sequence[Surprise], missed: Collection[int]
) -> tuple[OpenFigure, ...]:
    """Return the wanted figures that nobody read, that readings cannot tell in from out, or that are doubted.

    A string that was read to lie on the crown is told as that.
    """
    places, read = {place_read(one.reading) for one in doubted}, taken(service.readings)
    lying = {place_read(one) for one in service.readings if isinstance(one, Gap) and one.mm <= 0.0}
    found = []
    for index, target in enumerate(sight.targets):
        if index in missed or (sight.places[index] in lying and not sight.judged[index]):
            continue
        if sight.places[index] in places:
            found.append(OpenFigure(target, "doubted"))
        elif not was_read(target, read):
            found.append(OpenFigure(target, "unread"))
        elif not sight.judged[index]:
            found.append(OpenFigure(target, "unsure"))
    return tuple(found)


def surely_missed(
    missed: Sequence[Unreached], service: Service, now: Estimate, sight: Sight
) -> tuple[Unreached, ...]:
    """Return what no adjuster reaches, without what rests on a contradicted reading: that is read first."""
    odd = {
        place_read(one.reading)
        for one in now.surprises
        if one.contradicted and not answered(one.reading, service, now)
    }
    return tuple(one for one in missed if sight.places[one.target] not in odd)


def message_of_open(figures: Sequence[OpenFigure]) -> tuple[Message, ...]:
    """Return what is not known, each sort of figure with its strings, as messages."""
    groups: dict[tuple[str, str], list[int]] = {}
    for one in figures:
        groups.setdefault((one.name, one.why), []).append(one.target.string)
    return tuple(
        Message(
            key=f"verdict.{why}",
            values={"name": name, "strings": strings_in_words(strings)},
            about=tuple(f"string {one}" for one in sorted(set(strings))),
            severity="care",
        )
        for (name, why), strings in groups.items()
    )
