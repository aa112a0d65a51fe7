"""What a neck teaches is kept, sharpens the next visit, and helps the shop's other necks only as far as it may."""

import numpy as np

from bench._instruments import arrival
from bench._later import months_later
from bench._maker import by_plan
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import estimate
from breakangle.planning.estimate.learning import recall, responses_of, shop_responses, teaches
from breakangle.planning.kinds.adjustments.rod import RodTurn
from breakangle.planning.kinds.prior import Responses, learned_places, prior_of
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.state.board import board_of
from breakangle.planning.trips.step_reasons import responses
from planning_cases import ordinary

RELIEF = {"fret": 8, "held": (1, 17), "uncertainty_mm": 0.01}


def _rod_service(before_mm: float, after_mm: float, turns: float) -> Service:
    """Return a service with relief read at both edges before and after one turn of the rod."""
    readings = tuple(
        Gap(string=string, mm=mm, after=after, **RELIEF)
        for after, mm in ((0, before_mm), (1, after_mm))
        for string in (1, 6)
    )
    return Service(instrument=ordinary("electric-guitar"), readings=readings, work=(RodTurn(turns=turns),))


def _rod(now) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    found = next(one for one in responses(now) if one.name == "rod_relief_mm_per_turn")
    return found.value, found.uncertainty


def test_relief_before_and_after_a_turn_teaches_what_the_rod_does():
    value, spread = _rod(estimate(_rod_service(0.50, 0.35, 0.25)))
    untaught, doubt = _rod(
        estimate(_rod_service(0.50, 0.35, 0.25).model_copy(update={"readings": (), "work": ()}))
    )
    assert abs(value - -0.6) < 2 * spread
    assert spread < 0.6 * doubt
    assert untaught == -0.4  # the family's figure, common practice, no source


def test_a_relief_that_reads_nothing_teaches_nothing_of_the_rod():
    """Of a neck flat or bent back no gauge tells by how much: before or after the turn. Derived."""
    assert teaches(_rod_service(0.50, 0.35, 0.25))
    assert not teaches(_rod_service(0.15, 0.0, 0.25))
    assert not teaches(_rod_service(0.0, 0.15, -0.25))


def test_the_next_visit_starts_from_what_the_last_one_taught():
    visits = [_rod_service(0.50, 0.36, 0.25), _rod_service(0.45, 0.30, 0.25)]
    blank = Service(instrument=ordinary("electric-guitar"))
    spreads = [_rod(estimate(blank, prior=recall(visits[:n], blank)))[1] for n in range(3)]
    assert spreads[0] > spreads[1] > spreads[2]
    value, spread = _rod(estimate(blank, prior=recall(visits, blank)))
    assert abs(value - -0.58) < 2 * spread


def test_time_between_visits_adds_doubt_about_the_neck_and_none_is_taken_from_it():
    visit = _rod_service(0.50, 0.35, 0.25)
    blank = Service(instrument=visit.instrument)
    last, belief = estimate(visit), recall([visit], blank)
    layout = last.picture.layout
    for block in ("neck", "saddle_height", "nut_height", "saddle_setback", "crown"):
        places = layout[block]
        before, after = np.diag(last.belief.covariance)[places], np.diag(belief.covariance)[places]
        assert np.all(after > before)
    assert np.allclose(belief.mean[layout["rod"]], last.belief.mean[layout["rod"]])


def test_a_rod_is_known_less_well_each_time_it_comes_back():
    """8 % of what it does per turn, in quadrature: common practice, no source."""
    visit = _rod_service(0.50, 0.35, 0.25)
    last, belief = estimate(visit), recall([visit], Service(instrument=visit.instrument))
    rod = last.picture.layout["rod"]
    before, after = np.diag(last.belief.covariance)[rod], np.diag(belief.covariance)[rod]
    does = last.belief.mean[rod][0]
    assert abs(does) > 0.1
    assert np.allclose(after - before, (0.08 * does) ** 2, rtol=1e-9)


def test_new_strings_of_another_pull_bend_the_remembered_neck():
    visit = _rod_service(0.40, 0.30, 0.25)
    light = ordinary("electric-guitar")
    heavier = tuple(one.model_copy(update={"diameter_mm": one.diameter_mm * 1.1}) for one in light.strings)
    heavy = Service(instrument=light.model_copy(update={"strings": heavier}))
    layout = estimate(visit).picture.layout
    with_light = recall([visit], Service(instrument=light)).mean[layout["neck"][0]]
    with_heavy = recall([visit], heavy).mean[layout["neck"][0]]
    assert with_heavy > with_light


def test_the_shops_other_necks_sharpen_a_new_one_but_never_as_much_as_its_own_history():
    blank = Service(instrument=ordinary("electric-guitar"))
    board = board_of(blank.instrument)
    other = responses_of(estimate(_rod_service(0.50, 0.35, 0.25)))
    spreads = []
    for count in (0, 1, 3, 12):
        taught = shop_responses(board, [other] * count)
        spreads.append(_rod(estimate(blank, responses=taught))[1])
    assert spreads[0] > spreads[1] > spreads[2] > spreads[3]
    own = _rod(estimate(blank, prior=recall([_rod_service(0.50, 0.35, 0.25)], blank)))[1]
    assert own < spreads[3]


def test_a_neck_that_taught_nothing_changes_nothing():
    board = board_of(ordinary("electric-guitar"))
    family = prior_of(board)
    places = learned_places(estimate(Service(instrument=board.instrument)).picture.layout)
    same = Responses(family.mean[places], family.covariance[np.ix_(places, places)])
    taught = shop_responses(board, [same, same])
    assert taught is not None
    assert np.allclose(taught.mean, same.mean, atol=1e-6)
    assert np.allclose(np.diag(taught.covariance), np.diag(same.covariance), rtol=1e-3, atol=1e-9)


def test_on_simulated_necks_the_learned_rod_is_nearer_the_truth_than_the_familys():
    better = 0
    for seed in range(6):
        one = arrival("electric-guitar", seed)
        first = by_plan(one, seed)
        months_later(one, seed)
        true = one._relief_of(one.rod_per_turn_mm)
        turned = any(step.adjust == "rod" for step in first.service.work)
        value, _ = _rod(first.last)
        better += (not turned) or abs(value - true) <= abs(-0.4 - true) + 0.02
    assert better >= 5
