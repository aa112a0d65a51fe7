"""The proofs that are too long for every change name what is there: nobody would see at once that they do not."""

import importlib

import pytest

from bench.keys import wanted_pages
from bench.prove import PROOFS
from bench.whole import JOURNEYS
from web_fixtures.pages import PAGES


@pytest.mark.parametrize("name", PROOFS)
def test_every_proof_can_be_called(name: str):
    assert callable(importlib.import_module(f"bench.{name}").prove)


def test_whole_jobs_are_where_their_proof_looks():
    assert [one for one in JOURNEYS if not one.exists()] == []


def test_parts_of_the_key_proof_hold_every_page_once():
    parts = [page for part in range(1, 8) for page in wanted_pages([f"--part={part}/7"])]
    assert sorted(parts) == sorted(PAGES)
    assert wanted_pages([]) == PAGES
    assert wanted_pages(["--pages=27/plan,27/work"]) == [
        "/example/visits/27/work",
        "/example/visits/27/plan",
    ]
