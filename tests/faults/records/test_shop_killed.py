"""Killed with SIGKILL at random moments while several write: what was acknowledged is there, whole; on both engines."""

from collections.abc import Iterator

import pytest

from shop_fixtures.killing import killed_rounds
from shop_fixtures.server import Server, server_or_skip


@pytest.fixture
def own_server() -> Iterator[Server]:
    """Return a server of this test's own: on the disk, with fsync, as one is where people work."""
    made = server_or_skip(careful=True)
    yield made
    made.remove()


def test_no_acknowledged_reading_is_lost_and_none_is_torn_in_a_file(tmp_path):
    """The benchmark `records` runs 200 rounds; this is the same with fewer."""
    outcome = killed_rounds(tmp_path, rounds=25, writers=4, seed=7)
    assert outcome.acknowledged >= 50
    assert (outcome.lost, outcome.torn, outcome.unsound) == (0, 0, 0)


def test_no_acknowledged_reading_is_lost_and_none_is_torn_on_a_server(own_server, tmp_path):
    """Every third round the server itself is killed with all its processes, and started again."""
    outcome = killed_rounds(tmp_path, rounds=12, writers=4, seed=8, server=own_server)
    assert outcome.server_deaths == 4
    assert outcome.acknowledged >= 24
    assert (outcome.lost, outcome.torn, outcome.unsound) == (0, 0, 0)
