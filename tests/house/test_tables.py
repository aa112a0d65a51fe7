"""Every row of every data file has a source and figures that can be true; constants follow from them."""

import math
import tomllib
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from breakangle.model.errors import CorrectInputError
from breakangle.planning.state.string_constants import string_constants
from breakangle.reference.families import families, family
from breakangle.reference.rows import read_table
from breakangle.reference.strings import make, makes, usual_core_mm, wire, wrap, wraps
from breakangle.reference.threads import thread, threads
from breakangle.reference.woods import wood, woods

DATA = Path(str(files("breakangle.reference"))) / "data"
ALL_FILES = sorted(DATA.rglob("*.toml"))


def rows_in(table, place):
    """Every table with entries of its own, with its place; rows of a list lean on the source of their table.

    A spread (mean and sd) is part of its table, and words alone at the head of a file are its title.
    """
    for name, value in table.items():
        inner = f"{place}.{name}"
        if isinstance(value, dict) and set(value) != {"mean", "sd"}:
            if any(not isinstance(entry, dict) for entry in value.values()):
                yield inner, value
            yield from rows_in(value, inner)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for number, row in enumerate(value):
                yield f"{inner}[{number}]", {"source": table.get("source"), **row}


def numbers_in(value):
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        yield float(value)
    elif isinstance(value, dict):
        for inner in value.values():
            yield from numbers_in(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from numbers_in(inner)


@pytest.mark.parametrize("path", ALL_FILES, ids=lambda path: str(path.relative_to(DATA)))
def test_every_row_has_a_source_and_finite_figures(path):
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    assert set(table) <= {"words"} | {name for name, value in table.items() if isinstance(value, dict)}
    rows = list(rows_in(table, path.stem))
    assert len(rows) >= 2
    for place, row in rows:
        assert isinstance(row.get("source"), str), f"{place} has no source"
        assert len(row["source"]) > 10, f"{place} has no real source"
    found = list(numbers_in(table))
    assert found or path.name == "dangers.toml", "a table of figures"
    assert all(math.isfinite(number) for number in found)


def test_the_walk_over_rows_sees_a_missing_source():
    table = {
        "good": {"figure": 1.0, "source": "somewhere"},
        "bad": {"figure": 2.0},
        "group": {"deep": {"kind": "x"}, "listed": {"source": "here", "rows": [{"a": 1.0}]}},
        "unsourced": {"rows": [{"a": 1.0}]},
    }
    sources = {place: row.get("source") for place, row in rows_in(table, "file")}
    assert sources == {
        "file.good": "somewhere",
        "file.bad": None,
        "file.group.deep": None,
        "file.group.listed": "here",
        "file.group.listed.rows[0]": "here",
        "file.unsourced": None,
        "file.unsourced.rows[0]": None,
    }


def test_measured_values_override_and_narrow():
    guessed = string_constants(make="wound-steel", diameter_mm=1.168, open_length_mm=648.0, pitch_hz=82.407)
    assert guessed.guessed_core_mm is not None
    weighed = string_constants(
        make="wound-steel",
        diameter_mm=1.168,
        open_length_mm=648.0,
        pitch_hz=82.407,
        core_mm=0.457,
        unit_mass_g_per_m=6.7,
        axial_stiffness_n=32000.0,
        bending_stiffness_n_mm2=500.0,
    )
    assert (weighed.unit_mass_g_per_m, weighed.axial_stiffness_n) == (6.7, 32000.0)
    assert weighed.bending_stiffness_n_mm2 == 500.0
    assert weighed.guessed_core_mm is None
    for name in ("unit_mass_sd_ratio", "axial_sd_ratio", "bending_sd_ratio"):
        assert getattr(weighed, name) < 0.2 * getattr(guessed, name)


@pytest.mark.parametrize("key", makes())
def test_every_make_forms_constants(key):
    of = make(key)
    diameter = 0.9 if of.wound else 0.5
    constants = string_constants(make=key, diameter_mm=diameter, open_length_mm=650.0, pitch_hz=120.0)
    assert constants.unit_mass_g_per_m > 0.0
    assert (of.modulus_mpa is None) != (of.axial_ratio is None)
    assert of.axial == ("modulus" if of.axial_ratio is None else "tension")
    if of.wound:
        assert of.usual_wrap in wraps()
        assert 0.2 < usual_core_mm(key, diameter) / diameter < 0.75
        assert 0.7 < (of.wrap_fill_ratio or 0.0) < 1.0
    if of.strength is not None:
        assert wire(of.strength).strength


def test_usual_cores_grow_with_the_string_and_leave_room_for_the_wrap():
    for key in ("wound-steel", "wound-nylon"):
        diameters = np.linspace(0.3, 3.6, 200)
        cores = np.array([usual_core_mm(key, d) for d in diameters])
        assert np.all(np.diff(cores) >= -1e-12)
        assert np.all(cores < 0.85 * diameters)


def test_nylon_constants_against_measured_strings():
    """Anderson and Beausoleil (2024), JASA 156, 683: radius mm, unit mass mg/mm, EA/T, normal tension."""
    measured = [
        ("plain-nylon", 0.356, 0.374, 48.2), ("plain-nylon", 0.409, 0.505, 48.7),
        ("plain-nylon", 0.512, 0.836, 58.6), ("wound-nylon", 0.368, 1.920, 46.0),
        ("wound-nylon", 0.445, 3.289, 48.7), ("wound-nylon", 0.546, 5.470, 58.2),
    ]  # fmt: skip
    for key, radius_mm, unit_mass, axial_ratio in measured:
        found = string_constants(make=key, diameter_mm=2 * radius_mm, open_length_mm=650.0, pitch_hz=150.0)
        assert abs(np.log(found.unit_mass_g_per_m / unit_mass)) < 2.0 * found.unit_mass_sd_ratio
        ratio = found.axial_stiffness_n / found.tension_n
        assert abs(np.log(ratio / axial_ratio)) < 2.0 * found.axial_sd_ratio


def test_wraps_woods_threads_and_wire_have_ranges_that_can_be_true():
    for key in wraps():
        assert 2000.0 < wrap(key).density_kg_per_m3 < 11000.0
        assert wrap(key).density_sd_kg_per_m3 > 0.0
    for key in woods():
        assert 0.0005 < wood(key).radial_per_percent < wood(key).tangential_per_percent < 0.006
    for key in threads():
        assert 0.3 < thread(key).pitch_mm < 1.5
    steel = wire("music-wire")
    assert steel.density_low_kg_per_m3 < steel.density_kg_per_m3 < steel.density_high_kg_per_m3
    assert steel.modulus_low_mpa < steel.modulus_mpa < steel.modulus_high_mpa


@pytest.mark.parametrize(
    ("key", "pitch_mm"),
    [
        ("M2.5", 0.45),
        ("M3", 0.5),
        ("M4", 0.7),
        ("4-40-UNC", 0.635),
        ("6-32-UNC", 25.4 / 32),
        ("10-32-UNF", 25.4 / 32),
    ],
)
def test_threads(key, pitch_mm):
    """From memory: ISO 261 coarse pitches; unified threads by their count to the inch."""
    assert thread(key).pitch_mm == pytest.approx(pitch_mm, abs=1e-9)


@pytest.mark.parametrize(
    ("look", "known"),
    [(family, families), (make, makes), (wrap, wraps), (wood, woods), (thread, threads)],
)
def test_an_unknown_key_is_answered_with_the_known_ones(look, known):
    with pytest.raises(CorrectInputError) as raised:
        look("kazoo")
    assert "kazoo" in str(raised.value)
    assert all(key in str(raised.value) for key in known())


def test_a_core_that_does_not_fit_is_refused():
    with pytest.raises(CorrectInputError, match="core_mm"):
        string_constants(
            make="wound-steel", diameter_mm=0.4, open_length_mm=648.0, pitch_hz=196.0, core_mm=0.5
        )


def test_unknown_hand_and_unknown_wire_are_refused():
    with pytest.raises(CorrectInputError, match="light"):
        family("mandolin").target("enormous")
    with pytest.raises(CorrectInputError, match="music-wire"):
        wire("gold")


def test_tables_are_read_once():
    assert read_table("threads") is read_table("threads")
    assert family("mandolin") is family("mandolin")
