"""Values at the ends of what is allowed, and odd but valid instruments: an answer or a sentence, no crash."""

import json
from typing import Any

import pytest

from breakangle.cli.main import main
from breakangle.reference.families import families
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.service import schema_text
from service_files import changed, full_service, places


def bounds() -> dict[str, list[tuple[float, float]]]:
    """Return every range the schema knows, by the key it stands under."""
    found: dict[str, list[tuple[float, float]]] = {}

    def look(part: Any, key: str) -> None:
        if isinstance(part, dict):
            if "minimum" in part:
                found.setdefault(key, []).append((part["minimum"], part["maximum"]))
            for name, inner in part.items():
                look(inner, key if name in ("anyOf", "prefixItems", "items", "oneOf") else name)
        elif isinstance(part, list):
            for inner in part:
                look(inner, key)

    look(json.loads(schema_text()), "")
    return found


RANGES = bounds()


def at_the_ends() -> list[tuple[str, tuple[Any, ...], float]]:
    found = []
    for path, way, value in places(full_service()):
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            key = next(one for one in reversed(way) if isinstance(one, str))
            ends = {end for low, high in RANGES[key] for end in (low, high)}
            found += [(f"{path} = {end:g}", way, end) for end in sorted(ends)]
    return found


def answered(capsys, tmp_path, data: dict[str, Any], verb: str = "plan") -> int:
    file = tmp_path / "service.json"
    file.write_text(json.dumps(data))
    code = main([verb, str(file), "--json"])
    out, err = capsys.readouterr()
    if code == 2:
        assert out == ""
        assert err.count("\n") == 1
        assert "Traceback" not in err
    else:
        assert code in (0, 1)
        assert err == ""
        json.loads(out, parse_constant=lambda name: pytest.fail(f"{name} in the answer"))
    return code


ENDS = at_the_ends()


@pytest.mark.parametrize(
    ("way", "end"), [(way, end) for _, way, end in ENDS], ids=[name for name, _, _ in ENDS]
)
def test_a_value_at_the_end_of_its_range_is_answered(way, end, capsys, tmp_path):
    answered(capsys, tmp_path, changed(full_service(), way, end))


@pytest.mark.parametrize("kind", families())
@pytest.mark.parametrize("verb", ["plan", "predict"])
def test_an_instrument_of_every_family_without_readings_is_answered(kind, verb, capsys, tmp_path):
    assert answered(capsys, tmp_path, json.loads(example_text(kind)), verb) == 0


def small(count: int, frets: int, joint: int) -> dict[str, Any]:
    data = json.loads(example_text("electric-guitar"))
    note = ["E4", "B3", "G3", "D3", "A2", "E2"]
    data["instrument"] |= {
        "frets": frets,
        "joint_fret": joint,
        "strings": [
            {"string": n + 1, "note": note[n % 6], "make": "plain-steel", "diameter_mm": 0.3}
            for n in range(count)
        ],
    }
    return data


@pytest.mark.parametrize("count", [1, 2, 18])
@pytest.mark.parametrize(("frets", "joint"), [(5, 4), (5, 5), (12, 12), (36, 4), (36, 36)])
def test_one_string_or_eighteen_few_frets_or_many(count, frets, joint, capsys, tmp_path):
    data = small(count, frets, joint)
    assert answered(capsys, tmp_path, data) in (0, 1)
    assert answered(capsys, tmp_path, data, "predict") == 0


def test_readings_that_no_instrument_fits_are_named_as_such(capsys, tmp_path):
    """An octave nearly a semitone flat, and a neck bent by nearly a centimetre, on an ordinary instrument."""
    data = json.loads(example_text())
    data["readings"][0]["mm"] = 9.7
    for reading in data["readings"]:
        if reading["quantity"] == "pitch" and reading["fret"] == 12 and reading["string"] == 3:
            reading["cents"] = -95.0
        if reading["quantity"] == "pitch" and reading["fret"] == 0 and reading["string"] == 1:
            reading["cents"] = 250.0
    answered(capsys, tmp_path, data)
    answered(capsys, tmp_path, data, "predict")


@pytest.mark.parametrize("bridge", ["individual", "two-post", "one-piece", "floating"])
@pytest.mark.parametrize("rod", ["single", "dual", "none"])
@pytest.mark.parametrize("nut", ["nut", "zero-fret"])
@pytest.mark.parametrize("radius", [None, 305.0, {"at_nut": 254.0, "at_last_fret": 406.0}])
def test_every_bridge_rod_nut_and_board(bridge, rod, nut, radius, capsys, tmp_path):
    data = json.loads(example_text())
    data["instrument"]["bridge"] = {"kind": bridge}
    data["instrument"]["rod"] = {"kind": rod}
    data["instrument"]["nut"] = {"kind": nut}
    data["instrument"]["board_radius_mm"] = radius
    assert answered(capsys, tmp_path, data) in (0, 1)
