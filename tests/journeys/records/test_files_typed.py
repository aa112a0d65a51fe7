"""Service files as people write them: inches, near misses and slips are asked about first; nothing rests on them."""

import json
from typing import Any

import pytest

from breakangle.cli.main import main
from breakangle.services.service_files.example import example_text

INCH_MM = 25.4


@pytest.fixture
def ran(capsys, tmp_path):
    """Return what runs a verb on a file with this data (or text), and gives the exit code, output and error."""

    def run(verb: str, data: Any, *more: str) -> tuple[int, str, str]:
        file = tmp_path / "service.json"
        file.write_text(data if isinstance(data, str) else json.dumps(data), encoding="utf-8")
        code = main([verb, str(file), *more])
        said = capsys.readouterr()
        return code, " ".join(said.out.split()), said.err

    return run


def example() -> dict[str, Any]:
    return dict(json.loads(example_text()))


def in_inches() -> dict[str, Any]:
    data = example()
    for one in data["readings"]:
        if "mm" in one:
            one["mm"] = round(one["mm"] / INCH_MM, 3)
    return data


@pytest.mark.parametrize("verb", ["plan", "buzz", "predict", "lowest"])
def test_a_file_in_inches_is_answered_with_the_question_first(ran, verb):
    code, out, _ = ran(verb, in_inches())
    assert code in (0, 1)
    assert "did you mean inches?" in out[:400]
    assert '"unit": "mm"' in out


@pytest.mark.parametrize("verb", ["plan", "buzz", "predict", "lowest"])
def test_a_file_in_mm_is_answered_without_a_question(ran, verb):
    assert "did you mean" not in ran(verb, example())[1]


def test_nothing_of_a_file_in_inches_is_ordered(ran):
    plan = json.loads(ran("plan", in_inches(), "--json")[1])
    assert plan["questions"][0]["ask"] == "inches"
    without = example()
    without["readings"] = [one for one in without["readings"] if "mm" not in one]
    rest = json.loads(ran("plan", without, "--json")[1])
    assert plan["steps"] == rest["steps"]


def test_a_file_that_says_its_figures_are_in_mm_is_not_asked_about(ran):
    assert "did you mean" not in ran("predict", in_inches() | {"unit": "mm"})[1]


def reading(data: dict[str, Any], quantity: str) -> dict[str, Any]:
    return next(one for one in data["readings"] if one["quantity"] == quantity)


def test_a_nearly_known_key_is_reported_first_and_its_reading_left_out(ran):
    data = example()
    one = reading(data, "gap")
    one["hold"] = one.pop("held")
    code, out, _ = ran("predict", data)
    assert code == 0
    assert "says hold, which is not known: did you mean held?" in out[:200]
    left = example()
    left["readings"].remove(reading(left, "gap"))
    assert json.loads(ran("predict", data, "--json")[1]) == json.loads(ran("predict", left, "--json")[1])


def test_another_programs_own_keys_are_kept_and_change_nothing(ran):
    data = example()
    reading(data, "gap")["at"] = "2026-01-05T10:00:00Z"
    code, out, err = ran("predict", data)
    assert code == 0
    assert "did you mean" not in out
    assert "kept as it came" in err


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda data: reading(data, "gap").update(quantity="relief"), '"fret": 8, "held": [1, 17]'),
        (lambda data: reading(data, "gap").update(quantity="action"), '"fret": 12, "held": [1]'),
        (lambda data: reading(data, "gap").update(mm="0.071in"), "without a unit and without quotes: 1.803"),
        (lambda data: reading(data, "gap").update(mm="1,5"), "1,5 has a decimal comma"),
        (lambda data: reading(data, "gap").update(mm=59), "59 thou (1.499 mm)"),
        (lambda data: data["instrument"].update(scale_mm=25.5), "25.5 in (647.7 mm)"),
        (lambda data: data["instrument"]["strings"][0].update(diameter_mm=0.010), "0.01 in (0.254 mm)"),
        (lambda data: data["instrument"]["strings"][0].update(diameter_mm=10), "10 thou (0.254 mm)"),
        (lambda data: reading(data, "pitch").update(cents=None, hz=41.2), "an octave below the note"),
    ],
)
def test_what_cannot_be_right_is_refused_in_one_sentence_with_what_was_meant(ran, spoil, said):
    data = example()
    data["readings"] = [{"quantity": "pitch", "string": 6, "fret": 0, "hz": 82.4}, *data["readings"]]
    spoil(data)
    code, out, err = ran("plan", data)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_a_decimal_comma_that_is_no_json_is_named(ran):
    data = example()
    reading(data, "gap")["mm"] = 1.25
    code, _, err = ran("plan", json.dumps(data).replace('"mm": 1.25', '"mm": 1,25', 1))
    assert code == 2
    assert "has a decimal comma at line 1: 1,25" in err
    assert "write 1.25" in err


@pytest.mark.parametrize(
    ("spoil", "ask", "said"),
    [
        (
            lambda data: reading(data, "pitch").update(fret=12, cents=150.0),
            "typing-slip",
            "150 cents above its note",
        ),
        (
            lambda data: data.update(work=[{"adjust": "nut-slot", "string": 1, "mm": 0.1}]),
            "typing-slip",
            "a cut takes away",
        ),
        (
            # Half a turn of a screw of 0.5 mm a turn is 0.25 mm: derived.
            lambda data: data.update(
                work=[{"adjust": "saddle-height", "string": 1, "mm": -0.6, "turns": 0.5}]
            ),
            "typing-slip",
            "turns that make 0.25 mm",
        ),
        (lambda data: data["instrument"]["strings"][0].update(note="E5"), "note", "an octave too high"),
        (lambda data: data["instrument"]["strings"][0].update(diameter_mm=0.16), "gauge", "pulls"),
    ],
)
def test_a_slip_in_a_file_is_asked_about(ran, spoil, ask, said):
    data = example()
    data["readings"] = [one for one in data["readings"] if one["quantity"] == "gap"]
    data["readings"].append({"quantity": "pitch", "string": 6, "fret": 0, "cents": 0.0})
    spoil(data)
    assert said in ran("plan", data)[1]
    asked = json.loads(ran("plan", data, "--json")[1])["questions"]
    assert ask in [one["ask"] for one in asked]


def test_a_filled_slot_that_says_so_is_not_asked_about(ran):
    data = example() | {"work": [{"adjust": "nut-slot", "string": 1, "mm": 0.1, "raised": True}]}
    assert "a cut takes away" not in ran("plan", data)[1]


def test_check_and_swap_ask_as_well(ran):
    assert "did you mean inches?" in ran("check", in_inches())[1]
    assert "did you mean inches?" in ran("swap", in_inches(), "--tune", "6=D2")[1][:400]


def test_wishes_in_inches_are_asked_about_and_the_houses_figures_stand(ran):
    wish = {"quantity": "gap", "string": 6, "fret": 12, "held": [1], "mm": 0.055, "tolerance_mm": 0.1}
    data = example() | {"targets": {"hand": "medium", "wanted": [wish]}}
    plan = json.loads(ran("plan", data, "--json")[1])
    assert plan["questions"][0]["as_inches"] == pytest.approx(0.055 * INCH_MM)
    assert wish["mm"] not in [one["mm"] for one in plan["targets"]["wanted"] if one["quantity"] == "gap"]
    wish["mm"] = 1.4
    assert json.loads(ran("plan", data, "--json")[1]).get("questions", []) == []


@pytest.mark.parametrize(
    ("margin", "code"), [("0.02mm", None), (".001in", None), ("0,05", None), ("2 in", 2)]
)
def test_a_margin_is_typed_as_any_length(ran, margin, code):
    found = ran("lowest", example(), "--margin", margin)[0]
    assert found == code if code else found in (0, 1)


def test_a_bare_pack_size_that_no_string_has_in_mm_is_asked_about(monkeypatch, tmp_path, capsys):
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BREAKANGLE_WHO", "Ada")
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    assert main(["packs", "--add", "bass set", "1", "1", "--sizes", ".105"]) == 2
    assert "0.105 in" in capsys.readouterr().err
