"""What a typed box costs: the state is worked out once for it, whatever asks for it before and after."""

import pytest
from starlette.testclient import TestClient

from breakangle.services.plans import solved_visits

pytest_plugins = ["web_fixtures.at_hand"]
ONE, ASKED = "/visits/1/readings/one", "/visits/1/readings/asked"


@pytest.fixture
def worked_out(monkeypatch):
    """Return how many readings stood on the sheet each time that its state was worked out."""
    found, estimate = [], solved_visits.estimate

    def counted(service, **others):
        found.append(len(service.readings))
        return estimate(service, **others)

    monkeypatch.setattr(solved_visits, "estimate", counted)
    return found


def test_a_box_after_another_is_worked_out_once(first_sheet: TestClient, worked_out):
    """What was expected of it is what the page before it rested on."""
    for fret in (3, 5, 7, 9):
        del worked_out[:]
        answer = first_sheet.post(ONE, data={"box": f"crown_1_{fret}", "text": "0.01 mm"})
        assert answer.status_code == 200, answer.text
        assert first_sheet.get(ASKED).status_code == 200
    assert len(worked_out) == 1


def test_a_box_read_again_is_held_against_all_but_itself(first_sheet: TestClient, worked_out):
    """It is not what it is compared with: 0.05 and then 0.30 mm at one crown are told against the same state."""
    first = first_sheet.post(ONE, data={"box": "crown_1_3", "text": "0.05 mm"})
    del worked_out[:]
    again = first_sheet.post(
        ONE, data={"box": "crown_1_3", "text": "0.30 mm", "seen": first.headers["x-entry"]}
    )
    assert again.headers["x-entry"] != first.headers["x-entry"]
    assert len(set(worked_out)) == len(worked_out) <= 1
