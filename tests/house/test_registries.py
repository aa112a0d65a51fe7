"""Whatever lies in a registry's folder is in the registry, under its file's name, and appears everywhere."""

import json
import pkgutil
from dataclasses import fields

import pytest

from breakangle.planning.kinds import adjustments, readings, targets
from breakangle.planning.kinds.registry import adjustment_kinds, reading_kinds, target_kinds
from breakangle.planning.state.board import board_of
from breakangle.services.service_files.example import example_service
from breakangle.services.service_files.service import schema_text

FOLDERS = {"readings": (readings, reading_kinds), "adjustments": (adjustments, adjustment_kinds)}
FOLDERS |= {"targets": (targets, target_kinds)}
KINDS = [(name, kind) for name, (_, kinds) in FOLDERS.items() for kind in kinds().values()]


@pytest.mark.parametrize("folder", FOLDERS)
def test_every_file_of_a_folder_is_a_kind_of_its_name(folder):
    module, kinds = FOLDERS[folder]
    files = {one.name.replace("_", "-") for one in pkgutil.iter_modules(module.__path__)}
    assert set(kinds()) == files
    assert files


@pytest.mark.parametrize(("folder", "kind"), KINDS, ids=[f"{folder}-{kind.name}" for folder, kind in KINDS])
def test_a_kind_says_all_that_is_asked_of_it(folder, kind):
    for one in fields(kind):
        value = getattr(kind, one.name)
        assert value is not None, one.name
        if isinstance(value, str):
            assert value.strip(), one.name
    tag = "adjust" if folder == "adjustments" else "quantity"
    assert kind.model.model_fields[tag].default == kind.name


@pytest.mark.parametrize(("folder", "kind"), KINDS, ids=[f"{folder}-{kind.name}" for folder, kind in KINDS])
def test_a_kind_is_in_the_published_schema(folder, kind):
    schema = json.loads(schema_text())
    tag = "adjust" if folder == "adjustments" else "quantity"
    constants = [part["properties"].get(tag, {}).get("const") for part in schema["$defs"].values()]
    assert kind.name in constants


def test_adjustments_come_in_the_order_of_work():
    """Common practice, no source: rod, heights, nut, tune, intonation."""
    order = list(adjustment_kinds())
    wanted = ["rod", "saddle-height", "nut-slot", "tune", "saddle-position"]
    assert [name for name in order if name in wanted] == wanted
    assert len({kind.order for kind in adjustment_kinds().values()}) == len(order)


@pytest.mark.parametrize("kind", reading_kinds().values(), ids=lambda kind: kind.name)
def test_a_reading_kind_reads_its_own_proposals(kind):
    service = example_service()
    board = board_of(service.instrument, service.reference_hz)
    for reading in kind.candidates(service.instrument):
        assert list(reading.misfits(service.instrument)) == []
        assert kind.spread(reading) > 0.0
        assert abs(kind.value(reading, board)) < 300.0
        assert f"string {reading.string}" in kind.place(reading)
