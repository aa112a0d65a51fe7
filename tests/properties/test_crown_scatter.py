"""Crowns nobody read: how a buzz is told of them, what reading them changes, and what the file says of the frets."""

import numpy as np
import pytest

from breakangle.desk.example import example_service
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.planning.board import board_of
from breakangle.planning.buzz import buzz_map
from breakangle.planning.crowns_read import rough_by_crowns
from breakangle.planning.estimate import estimate
from breakangle.planning.prior import prior_of
from breakangle.planning.readings.crown import Crown
from breakangle.tables.frets import crown_scatter
from breakangle.tables.strength import playing


def every_crown(
    service: Service, scatter_mm: float, strings=(1, 2, 3, 4, 5, 6), seed: int = 1
) -> tuple[Crown, ...]:
    random = np.random.default_rng(seed)
    return tuple(
        Crown(
            string=string,
            fret=fret,
            mm=round(float(random.normal(0.0, scatter_mm)), 3),
            after=len(service.work),
        )
        for string in strings
        for fret in range(1, service.instrument.frets + 1)
    )


def with_frets(service: Service, condition: str) -> Service:
    instrument = service.instrument.model_copy(update={"fret_condition": condition})
    return service.model_copy(update={"instrument": instrument})


def with_crowns(service: Service, scatter_mm: float) -> Service:
    return service.model_copy(update={"readings": (*service.readings, *every_crown(service, scatter_mm))})


def chances(service: Service) -> np.ndarray:
    """Return how likely each note is told to touch, played at medium strength."""
    now = estimate(service)
    found = buzz_map(now.picture, now.belief, playing(service.instrument.kind), ("medium",), threads=1)
    return np.array([note.probability for note in found.notes])


def test_notes_are_surer_once_crowns_were_read():
    """Surer: what is told lies nearer to yes or no, on average by a tenth."""
    unread, read = chances(example_service()), chances(with_crowns(example_service(), 0.005))
    doubt = [np.mean(np.minimum(one, 1.0 - one)) for one in (unread, read)]
    assert doubt[1] < 0.9 * doubt[0]


def test_worn_frets_leave_more_in_doubt_than_dressed_ones():
    worn, dressed = (chances(with_frets(example_service(), one)) for one in ("worn", "dressed"))
    assert np.mean(np.minimum(worn, 1.0 - worn)) > 1.2 * np.mean(np.minimum(dressed, 1.0 - dressed))


@pytest.mark.parametrize(("scatter_mm", "rough"), [(0.008, False), (0.035, True)])
def test_reading_crowns_tells_an_even_board_from_a_rough_one(scatter_mm, rough):
    service = with_crowns(example_service(), scatter_mm)
    share = rough_by_crowns(service.readings, board_of(service.instrument))
    assert share > 0.95 if rough else share < 0.05


def test_a_crown_or_two_read_because_they_look_wrong_tell_nothing_of_the_rest():
    service = example_service()
    proud = (Crown(string=3, fret=9, mm=0.08), Crown(string=3, fret=14, mm=-0.06))
    board = board_of(service.instrument)
    assert rough_by_crowns(proud, board) == crown_scatter("unknown").rough_share


def test_crowns_spread_as_the_table_says_of_every_condition():
    """What all strings share, the slope at the edge and each crown's own part make up the whole."""
    for condition in ("new", "dressed", "worn", "unknown"):
        board = board_of(with_frets(example_service(), condition).instrument)
        prior, scatter = prior_of(board), crown_scatter(condition)
        layout = estimate(example_service()).picture.layout
        variance = np.diag(prior.covariance)
        parts = [float(variance[layout[block]].max()) for block in ("crown", "crown_tilt", "crown_own")]
        assert sum(parts) == pytest.approx(scatter.variance_mm2(scatter.rough_share))


def test_the_file_says_of_the_frets_in_its_second_form_only_where_somebody_did():
    service = example_service()
    assert (
        Service.model_validate(service.model_dump(mode="json", exclude_unset=True)).instrument.fret_condition
        == "unknown"
    )
    worn = with_frets(service, "worn")
    assert worn.instrument.format_number() == 2
    assert worn.written_format() == "breakangle/service/2"


def test_a_condition_that_nobody_knows_is_refused_with_those_there_are():
    with pytest.raises(CorrectInputError, match="dressed, new, unknown, worn"):
        crown_scatter("sorry")
