"""Names misspelled at the bench are found all the same, and it is said that they were spelled otherwise."""

import csv

import pytest

from breakangle.services.overview.search import find, find_near
from breakangle.services.visits.visits import add_owner
from breakangle.storage.search.search_near import meant
from shop_fixtures.filled import fill
from shop_fixtures.people import ADA

pytest_plugins = ["shop_fixtures.shops", "shop_fixtures.command_line"]


@pytest.fixture
def named(shop):
    fill(shop)
    for name in ("Margarethe Quillfeather", "Jörg Ahlmann", "Thandiwe Nkosana"):
        add_owner(shop, ADA, name)
    return shop


@pytest.mark.parametrize(("typed", "instead"), [
    ("Quilfeather", "quillfeather"),
    ("margarete quillfether", "margarethe quillfeather"),
    ("Ahlman", ""),  # begins the name: found as it is
    ("jorg", ""),
    ("Joerg Ahlmann", "jorg ahlmann"),
    ("Jrg Ahlmann", "jorg ahlmann"),  # three letters are enough beside a name that is there
    ("Thandiew", "thandiwe"),
    ("nkosnaa", "nkosana"),
    ("xylophone", ""),
    ("ah", ""),
    ("", ""),
])  # fmt: skip
def test_a_slip_in_a_name_finds_the_name(named, typed, instead):
    with named.reading() as connection:
        assert meant(connection, typed) == instead
    near, found = find_near(named, typed)
    assert near == instead
    assert bool(found) == bool(instead)
    if instead:
        assert find(named, typed) == ()


def test_the_command_says_what_it_found_instead(run, taken_in):
    del taken_in
    name = next(csv.DictReader(run("list", "instruments").splitlines()))["name"].split(",")[0].lower()
    slip = name[:-1] + ("x" if name[-1] != "x" else "y")
    said = run("search", slip)
    assert said.startswith(f'Nothing found for "{slip}". Spelled alike, "{name}":')
    assert run("search", name) in said
    assert run("search", "zzzzzzzz") == ""
