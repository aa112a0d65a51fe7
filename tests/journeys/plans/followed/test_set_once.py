"""A screw is set once: again only for what reads outside, or otherwise than expected. Common practice, no source."""

import pytest

from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.house_targets import house_targets
from breakangle.planning.estimate.target_state import sight_of
from breakangle.planning.kinds.adjustments.saddle_position import SaddlePosition
from breakangle.planning.kinds.adjustments.tune import Tune
from breakangle.planning.kinds.readings.pitch import Pitch
from breakangle.planning.state.board import board_of
from planning_cases import made_of, ordinary, role, service_reading

KINDS = ("bass-five", "electric-guitar")


def set_and_read(kind: str, share: float) -> Service:
    """An instrument whose octave of string 3 was out, its saddle moved, and read since `share` of its tolerance off."""
    service = service_reading(
        ordinary(kind), lambda one: 3.0 if role(one) == "intonation" and one.string == 3 else 0.0
    )
    step = next(
        one.adjustment for one in made_of(service).steps if isinstance(one.adjustment, SaddlePosition)
    )
    target = next(
        one
        for one in house_targets(board_of(service.instrument), "medium")
        if role(one) == "intonation" and one.string == 3
    )
    work: tuple[Adjustment, ...] = (Tune(), step)
    cents = target.cents + share * target.tolerance_cents  # type: ignore[attr-defined]
    since = (
        Pitch(string=3, fret=0, cents=0.0, after=2, uncertainty_cents=0.3),
        Pitch(string=3, fret=target.fret, cents=cents, after=2, uncertainty_cents=0.3),
    )
    return service.model_copy(update={"work": work, "readings": (*service.readings, *since)})


def moved(service: Service) -> list[int]:
    steps = [one.adjustment for one in made_of(service).steps]
    return [one.string for one in steps if isinstance(one, SaddlePosition)]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", [0.35, 0.8, 0.9])
def test_a_saddle_that_reads_inside_is_not_set_again_nor_any_other_for_it(kind: str, share: float):
    assert moved(set_and_read(kind, share)) == []


@pytest.mark.parametrize("kind", KINDS)
def test_a_saddle_that_reads_outside_is_set_again(kind: str):
    assert 3 in moved(set_and_read(kind, 1.2))


def test_that_nothing_more_is_set_is_said():
    """Read at the very edge, by less past it than its gauge can tell: without that rule it would be set again."""
    notes = made_of(set_and_read("electric-guitar", 1.03)).notes
    assert any(note.startswith("Nothing more is set of") for note in notes)


def test_a_note_read_sharp_after_its_saddle_was_moved_says_little_of_other_strings():
    """No finger comes nearer for one note: the others were read in tune, by the same hand, before. Derived."""
    service = set_and_read("electric-guitar", 0.9)
    wanted = house_targets(board_of(service.instrument), "medium")
    seen = sight_of(estimate(service), wanted)
    for target, off, tolerance in zip(seen.targets, seen.off, seen.tolerance, strict=True):
        if role(target) == "intonation" and target.string != 3:
            assert abs(off) < 0.2 * tolerance, target
