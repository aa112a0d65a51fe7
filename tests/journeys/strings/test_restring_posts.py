"""How a string is fixed to its post depends on the head: a slotted one has rollers, whatever its tuners are called."""

import pytest

from breakangle.procedures.facts import usual_facts
from breakangle.procedures.shelf import own_procedures
from breakangle.reference.families import family
from breakangle.services.service_files.example import usual_instrument

POSTS = ("post-plain", "post-slotted", "post-locking", "roller")


@pytest.mark.parametrize(
    ("kind", "told", "shown"),
    [
        ("nylon-acoustic-guitar", {}, ["roller"]),
        ("nylon-acoustic-guitar", {"tuners": "plain"}, ["roller"]),
        ("electric-guitar", {}, ["post-plain", "post-slotted", "post-locking"]),
        ("electric-guitar", {"tuners": "locking"}, ["post-locking"]),
    ],
)
def test_only_the_ways_that_this_head_can_have_are_shown(kind: str, told: dict[str, str], shown: list[str]):
    facts = usual_facts(usual_instrument(family(kind), "it")) | told
    restring = own_procedures()["restring"]
    assert [one.id for one in restring.steps_for(facts) if one.id in POSTS] == shown
    assert ("tuners" in restring.asks(facts)) is (kind == "electric-guitar" and not told)
