"""The routine's verbs as a person types them: strings, swap, wind, procedure, settle, climate."""

import json

import pytest

from breakangle.cli.main import main
from breakangle.services.service_files.example import example_text
from shop_fixtures.said import ran

pytest_plugins = ["shop_fixtures.example_file"]


def refused(capsys, *words: str) -> str:
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("breakangle: ")
    assert err.count("\n") == 1
    return err


def test_soft_strings_ask_for_a_printed_or_weighed_mass(capsys, tmp_path):
    """Nylon's mass hardly follows from its size: the page says so until somebody printed or weighed it."""
    file = tmp_path / "nylon.json"
    file.write_text(example_text("nylon-acoustic-guitar"), encoding="utf-8")
    by_size = [one["notes"] for one in json.loads(ran(capsys, "strings", str(file), "--json"))["strings"]]
    assert all("the maker's printed or a weighed mass is better" in " ".join(notes) for notes in by_size)
    told = json.loads(ran(capsys, "strings", str(file), "--json", "--printed", "1=0.374"))["strings"]
    assert "mass" not in " ".join(told[0]["notes"])
    assert "mass" in " ".join(told[1]["notes"])


def test_strings_tells_pull_feel_and_margin(capsys, example):
    out = ran(capsys, "strings", example)
    assert "The strings pull 463" in out
    assert "Feel: a semitone's bend at fret 12" in out
    data = json.loads(
        ran(capsys, "strings", example, "--json", "--weighed", "6=6.71/1000mm", "--printed", "1=0.3967")
    )
    assert data["strings"][5]["unit_mass_from"] == "weighed"
    assert data["strings"][5]["tension_n"]["value"] == pytest.approx(76.5, abs=0.2)
    assert data["strings"][0]["unit_mass_from"] == "printed"
    assert data["strings"][1]["unit_mass_from"] == "gauge"


def test_strings_finds_sizes(capsys, example):
    out = ran(capsys, "strings", example, "--find", "--total", "420")
    assert "See what it does here: breakangle swap." in out
    data = json.loads(ran(capsys, "strings", example, "--find", "--wish", "1=60", "--json"))
    assert data[0]["best"]["candidate"]["diameter_mm"] == pytest.approx(0.2286)


def test_swap_answers_first_and_leads_to_a_plan(capsys, example):
    sizes = (".009in", ".011in", ".016in", ".024in", ".032in", ".042in")
    out = ran(capsys, "swap", example, *sizes)
    assert out.startswith("Yes, it will need a set-up after")
    for words in ("Pull", "What was wanted, before and after", "Nut slots", "Notes", "N less."):
        assert words in out
    data = json.loads(ran(capsys, "swap", example, *sizes, "--json"))
    assert data["answer"] == "yes"
    assert data["pull_change_n"]["value"] < -20.0
    assert data["plan"]["format"] == "breakangle/plan/2"
    assert len(data["strings"][0]["clearance_change_mm"]) == 22
    assert "predicted" not in data


def test_swap_of_a_tuning_a_same_set_and_a_measured_slot(capsys, example):
    out = ran(capsys, "swap", example, "--tune", "6=D2")
    assert "carries 16 ± 2 N less" in out
    same = ran(capsys, "swap", example, "--same", "--units", "in")
    assert "carries 0 ±" in same
    assert "Nut slots" in same
    told = ran(capsys, "swap", example, "--same", "--slot", "6=1.0mm")
    assert "too thick for the slot" in told
    json.loads(ran(capsys, "swap", example, "--a4", "432", "--json"))


def test_swap_on_a_floating_bridge_tells_the_claw(capsys, tmp_path):
    data = json.loads(example_text())
    data["instrument"]["bridge"] = {"kind": "floating", "height_mm_per_turn": 0.7}
    file = tmp_path / "floating.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    sizes = (".011in", ".014in", ".018in", ".028in", ".038in", ".049in")
    out = ran(capsys, "swap", str(file), *sizes, "--springs", "3", "--spring-rate", "2")
    assert "Tighten the claw by" in out
    assert "Assumed of the floating bridge" in out


def test_wind_for_an_instrument_and_for_one_string(capsys, example):
    out = ran(capsys, "wind", example, "--next", "26mm")
    assert "times the way to the next post" in out
    assert "25.0 mm of spare end" in out
    one = ran(capsys, "wind", "--string", ".010in", "--winds", "3", "--diameter", "6mm")
    assert "let 57.2 mm back" in one
    crowded = ran(capsys, "wind", "--string", ".046in", "--winds", "5", "--room", "5mm")
    assert "climb over each other" in crowded
    data = json.loads(ran(capsys, "wind", example, "--post", "locking", "--json"))
    assert all(each["slack_mm"] == 0.0 for each in data)


def test_procedure_lists_prints_and_checks(capsys, example, tmp_path):
    listed = ran(capsys, "procedure")
    assert [line.split()[0] for line in listed.splitlines()][:3] == ["take-in", "unstring", "clean-and-oil"]
    text = ran(capsys, "procedure", "restring", "--of", example, "--fact", "tuners=locking")
    assert "clamp it" in text
    assert "Only if" not in text
    assert "tie block" not in text
    own = tmp_path / "own.toml"
    own.write_text(
        'name = "own"\ntitle = "Own"\npurpose = "Ours."\n[[steps]]\nid = "a"\ndo = "Do it."\nwhy = "So."\n',
        encoding="utf-8",
    )
    assert "1. Do it." in ran(capsys, "procedure", "--check", str(own))
    json.loads(ran(capsys, "procedure", "hand-back", "--json"))


def test_settle_says_how_many_more(capsys):
    out = ran(capsys, "settle", "6=-30,-14,-6", "5=-4,-1.5,-0.5", code=1)
    assert "string 5: settled" in out
    assert "Still to settle: string 6 is left" in out
    assert "middle, near the tuner, near the bridge, middle" in out
    assert "Every string has settled." in ran(capsys, "settle", "1=-8,-1,0.5")
    assert json.loads(ran(capsys, "settle", "1=-8", "--json", code=1))["next_string"] == 1


def test_climate_tells_and_says_what_is_not_known(capsys, example):
    out = ran(capsys, "climate", example, "--temperature", "24", "--humidity", "30")
    assert "From 20 °C and 45 % to 24 °C and 30 %" in out
    assert "What is not known" in out
    words = (
        "climate",
        example,
        "--temperature",
        "24",
        "--humidity",
        "30",
        "--wood",
        "sugar-maple",
        "--cut",
        "flat",
    )
    assert json.loads(ran(capsys, *words, "--json"))["board_width_mm"]["value"] < -0.4


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("strings", "FILE", "--weighed", "6=6.7"), "grams over length"),
        (("strings", "FILE", "--weighed", "9=6.7/1000mm"), "strings 1 to 6"),
        (("strings", "FILE", "--bend-fret", "40"), "from 1 to 22"),
        (("strings", "FILE", "--printed", "6=heavy"), "is not a number"),
        (("strings", "FILE", "--find", "--wish", "6=9999"), "from 5 to 500 N"),
        (("swap", "FILE"), "nothing is changed"),
        (("swap", "FILE", ".010in"), "6 sizes"),
        (("swap", "FILE", "--tune", "6"), "STRING=VALUE"),
        (("swap", "FILE", "--tune", "6=H2"), "not a note"),
        (("swap", "FILE", "--same", "--springs", "40"), "from 1 to 8"),
        (("wind",), "no string is named"),
        (("wind", "--string", ".010in", "--winds", "99"), "from 0 to 12"),
        (("wind", "--string", ".010in", "--post", "rubber"), "known are"),
        (("procedure", "fly"), "unstring"),
        (("procedure", "restring", "--fact", "tuners=oak"), "locking"),
        (("procedure", "restring", "--fact", "moon=full"), "tuners"),
        (("procedure", "--check", "nowhere.toml"), "cannot be read"),
        (("settle", "6=1,x"), "drifts in cents"),
        (("settle", "6=1", "6=2"), "named twice"),
        (("settle", "6=-9000"), "at most 700"),
        (("settle", "6=1", "--tolerance-cents", "0"), "from 0.05 to 50"),
        (("climate", "FILE", "--temperature", "200", "--humidity", "30"), "-10 to 50"),
        (("climate", "FILE", "--temperature", "20", "--humidity", "30", "--wood", "cheese"), "sugar-maple"),
    ],
)
def test_what_cannot_be_right_is_one_sentence(capsys, example, words, told):
    assert told in refused(capsys, *(example if one == "FILE" else one for one in words))


def test_packs_are_put_on_the_shelf_and_found_for_wished_pulls(capsys, example, tmp_path, monkeypatch):
    monkeypatch.setenv("BREAKANGLE_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BREAKANGLE_WHO", "Ada")
    monkeypatch.delenv("BREAKANGLE_DATABASE_URL", raising=False)
    sizes = (".011in", ".014in", ".018in", ".028in", ".038in", ".049in")
    out = ran(capsys, "packs", "--add", "eleven set", "2", "1", "--sizes", *sizes, "--cost", "6.40")
    assert out == "    2  pack    eleven set  6.40 each\n"
    ran(capsys, "packs", "--add", "ten and a half", "0", "3", "--sizes", ".0105in")
    assert ran(capsys, "packs", "--low") == "    0  single  ten and a half  (order more)\n"
    found = json.loads(ran(capsys, "strings", example, "--find", "--shelf", "--json"))
    assert found[3]["best"]["candidate"]["words"] == "eleven set"
    assert "one of" in refused(capsys, "packs", "--add", "x", "1", "1", "--sizes", ".010in:cheese")
    assert "is not a length" in refused(capsys, "packs", "--add", "x", "1", "1", "--sizes", "thin")
    assert "a whole number" in refused(capsys, "packs", "--add", "x", "many", "1", "--sizes", ".010in")
