"""What is read is what is written: values, order, kinds, and keys that no model knows."""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from breakangle.model.service_file import service_text
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.reference.families import families, family
from breakangle.services.service_files.example import empty_service, example_service, example_text
from breakangle.services.service_files.service import read_service, service_from, unknown
from breakangle.services.service_files.service_written import write_service
from service_files import changed, full_service, places

OBJECTS = [way for _, way, value in places(full_service()) if isinstance(value, dict)]
FINITE = st.floats(allow_nan=False, allow_infinity=False)
MEANINGLESS = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | FINITE | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(st.sampled_from(OBJECTS), st.text(min_size=1, max_size=12).map(lambda key: f"x-{key}"), MEANINGLESS)
def test_an_unknown_key_anywhere_is_kept_as_it_came(way, key, value):
    data = changed(full_service(), (*way, key), value)
    service = service_from(json.dumps(data).encode(), "here")
    assert json.loads(service_text(service)) == data
    assert len(unknown(service)) == 1


def test_the_full_file_comes_back_the_same():
    data = full_service()
    assert json.loads(service_text(service_from(json.dumps(data).encode(), "here"))) == data


@settings(deadline=None)
@given(st.permutations(full_service()["readings"]), st.booleans())
def test_the_order_of_readings_and_strings_is_kept(readings, turned):
    data = full_service() | {"readings": readings}
    if turned:
        data["instrument"]["strings"].reverse()
    assert json.loads(service_text(service_from(json.dumps(data).encode(), "here"))) == data


@pytest.mark.parametrize("kind", families())
def test_every_familys_file_comes_back_the_same(kind):
    service = empty_service(family(kind))
    assert service_from(service_text(service).encode(), "here") == service_from(
        example_text(kind).encode(), "here"
    )
    assert unknown(service) == ()


def test_a_service_made_in_python_is_a_file_that_can_be_read():
    made = empty_service(family("bass-four")).model_copy(
        update={"readings": (Gap(string=1, fret=12, held=(1,), mm=2.0),)}
    )
    data = json.loads(service_text(made))
    assert data["format"] == "breakangle/service/1"
    assert data["readings"] == [{"quantity": "gap", "string": 1, "fret": 12, "held": [1], "mm": 2.0}]
    assert service_from(service_text(made).encode(), "here").readings == made.readings


def test_a_file_is_written_whole_and_keeps_its_permissions(tmp_path):
    file = tmp_path / "service.json"
    write_service(file, example_service())
    file.chmod(0o640)
    write_service(file, example_service())
    assert file.stat().st_mode & 0o777 == 0o640
    assert read_service(file) == example_service()
    assert [one.name for one in tmp_path.iterdir()] == ["service.json"]
