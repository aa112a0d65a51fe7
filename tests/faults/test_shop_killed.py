"""Killed with SIGKILL at random moments while several write: what was acknowledged is there, whole."""

from shop_fixtures.killing import killed_rounds


def test_no_acknowledged_reading_is_lost_and_none_is_torn(tmp_path):
    """The benchmark `records` runs 200 rounds; this is the same with fewer."""
    outcome = killed_rounds(tmp_path, rounds=25, writers=4, seed=7)
    assert outcome.acknowledged > 50
    assert (outcome.lost, outcome.torn, outcome.unsound) == (0, 0, 0)
