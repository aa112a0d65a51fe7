"""Crowns nobody read: how a buzz is told of them, what reading them changes, and what the file says of the frets."""

import numpy as np
import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.planning.buzz.buzz_map import buzz_map
from breakangle.planning.buzz.contact_notes import board_notes
from breakangle.planning.buzz.touch_chance import GapBelief
from breakangle.planning.estimate.crowns_read import own_of, rough_by_crowns
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.kinds.prior import prior_of
from breakangle.planning.kinds.readings.crown import RESEATED_MM, Crown
from breakangle.planning.state.board import board_of
from breakangle.planning.state.crowns import OWN_SHARE, left_out_mm, rough_share, scatter_of
from breakangle.reference.frets import crown_scatter
from breakangle.reference.strength import playing
from breakangle.services.service_files.example import example_service


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


def test_a_crown_that_was_read_is_known_as_well_as_its_gauge_tells():
    """Derived: read with spread g, no crown is known worse than g, however little is known of the line under it."""
    read = every_crown(example_service(), 0.03, strings=(2, 5))
    known = tuple(one.model_copy(update={"uncertainty_mm": 0.015}) for one in read)
    service = with_frets(example_service(), "worn")
    now = estimate(service.model_copy(update={"readings": (*service.readings, *known)}))
    rows = GapBelief(board_notes(now.picture), now.belief).height_rows_as_read[[1, 4], 1:-1]
    layout = now.picture.layout
    crown = rows[:, :, np.concatenate([layout["crown"], layout["crown_tilt"]])]
    places = np.concatenate([layout["crown"], layout["crown_tilt"]])
    line = np.einsum("sfn,nm,sfm->sf", crown, now.belief.covariance[np.ix_(places, places)], crown)
    left_out = left_out_mm(now.board)[[1, 4], 1:-1] > 0.0
    own = own_of(now.board, now.belief)[1][[1, 4]]
    spread = np.sqrt((line + own)[left_out])
    assert spread.max() < np.hypot(0.015, RESEATED_MM)
    assert spread.min() > 0.5 * 0.015


def test_a_crown_written_down_wrong_stands_as_one_that_nobody_read():
    service = with_crowns(example_service(), 0.008)
    at = next(i for i, one in enumerate(service.readings) if isinstance(one, Crown) and one.fret == 14)
    slipped = service.readings[at].model_copy(update={"mm": 0.6})
    readings = (*service.readings[:at], slipped, *service.readings[at + 1 :])
    now = estimate(service.model_copy(update={"readings": readings}))
    mean, variance = (one[slipped.string - 1, slipped.fret - 1] for one in own_of(now.board, now.belief))
    unread = OWN_SHARE * scatter_of(now.board).variance_mm2(rough_share(now.board, now.belief))
    assert abs(mean) < 0.002
    assert variance == pytest.approx(unread, rel=0.02)


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
