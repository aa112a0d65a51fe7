"""The reading that would tell of a pattern, where those taken leave it open."""

from collections.abc import Callable, Iterator, Sequence

from breakangle.model.plan import Question
from breakangle.model.reading import Reading
from breakangle.model.words.message import Message
from breakangle.planning.estimate.diagnosis.heights import full_strings
from breakangle.planning.estimate.diagnosis.pattern import Seen
from breakangle.planning.kinds.reading_names import begun_with
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap

# Asked for only where the pattern is neither found nor so unlikely that nobody would look. Common practice, no source.
OPEN_FROM, OPEN_TO = 0.12, 0.9
DOUBTED_FROM = (
    0.12  # a reading so likely to be a slip is worth a quarter of a minute; common practice, no source
)
MOST_TIMES = 3  # two that agree outvote the third; common practice, no source


def _question(
    seen: Seen, cause: int, tolerance: float, readings: Callable[[], Sequence[Reading]]
) -> Iterator[Question]:
    pattern = seen.evidence.causes.all[cause].pattern
    likely = sum(seen.evidence.probability(place) for place, _ in seen.causes(pattern))
    if not OPEN_FROM <= likely <= OPEN_TO:
        return
    read = {_place(one) for one in seen.evidence.readings}
    asked = tuple(one for one in readings() if not list(one.misfits(seen.board.instrument)))
    if not asked or any(_place(one) in read for one in asked):
        return
    yield Question(
        ask="reading",
        readings=asked,
        message=Message(
            key=f"diagnosis.{pattern.replace('-', '_')}_open",
            values={"mm": tolerance},
            about=(pattern,),
        ),
        decides=("verdict",),
        minutes=0.25 * len(asked),
    )


def _place(one: Reading) -> tuple[object, ...]:
    return one.quantity, one.string, getattr(one, "fret", 0), getattr(one, "held", ())


def doubted(seen: Seen) -> Iterator[Question]:
    """Yield the question to read again what may well be a slip, where that would decide what is found."""
    evidence, count, now = seen.evidence, len(seen.evidence.causes.all), len(seen.service.work)
    taken: dict[tuple[object, ...], list[tuple[Reading, float]]] = {}
    for index, reading in enumerate(evidence.readings):
        taken.setdefault(_place(reading), []).append((reading, evidence.probability(count + index)))
    for every in taken.values():
        reading = every[-1][0]
        together = [likely for one, likely in every if one.after == reading.after]
        may_tell = reading.after == now or len(every) == 1
        if may_tell and min(together) >= DOUBTED_FROM and len(together) < MOST_TIMES:
            yield Question(
                ask="reading",
                readings=(reading,),
                message=Message(
                    key="diagnosis.read_again",
                    values={"place": begun_with(reading)},
                    about=(reading.quantity, f"string {reading.string}"),
                ),
                decides=("verdict",),
            )


def body_joint_frets(joint: int, last: int) -> tuple[int, ...]:
    """Return the frets around the body joint over which a straight string shows the board's line there."""
    return tuple(sorted({max(joint - 4, 2), joint, min(joint + 3, last), last}))


def asked_gaps(seen: Seen, cause: int, tolerance: float, frets: Sequence[int]) -> Iterator[Question]:
    """Yield the question for gaps over `frets` at both edges, the first fret held, where the pattern is open."""

    def gaps() -> list[Reading]:
        return [Gap(string=one, fret=fret, held=(1,), mm=0.0) for one in _edges(seen) for fret in frets]

    yield from _question(seen, cause, tolerance, gaps)


def asked_crowns(seen: Seen, cause: int, tolerance: float, frets: Sequence[int]) -> Iterator[Question]:
    """Yield the question for crowns at both edges, where the pattern is open."""

    def crowns() -> list[Reading]:
        return [Crown(string=one, fret=fret, mm=0.0) for one in _edges(seen) for fret in frets]

    yield from _question(seen, cause, tolerance, crowns)


def _edges(seen: Seen) -> tuple[int, ...]:
    strings = full_strings(seen.board)
    return tuple(dict.fromkeys((strings[-1], strings[0]))) if strings else ()
