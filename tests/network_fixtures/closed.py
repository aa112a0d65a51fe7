"""Fixture: the network is closed for this process while a test runs."""

from collections.abc import Iterator

import pytest

from network_fixtures.sitecustomize import CLOSED


@pytest.fixture
def closed_network() -> Iterator[list[str]]:
    """Refuse connections outside this computer, and fail the test that tried one."""
    CLOSED.tried.clear()
    CLOSED.on = True
    yield CLOSED.tried
    CLOSED.on = False
    assert CLOSED.tried == []
