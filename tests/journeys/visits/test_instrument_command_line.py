"""An instrument put right, and strings put back, from the command line, on both engines."""

import json
import shlex

import pytest

pytest_plugins = ["shop_fixtures.shops", "shop_fixtures.command_line"]


def test_what_was_told_wrongly_of_an_instrument_is_put_right_by_its_sheet(run, taken_in):
    shown = run("instrument", taken_in)
    assert "scale_mm=648mm\nfrets=22\n" in shown
    assert "owner='Åse Holm'\n" in shown
    assert "note_1=E4 gauge_1=0.254mm make_1=plain-steel core_1= wrap_1= as_told_1=\n" in shown
    typed = (
        "scale_mm=24.75",
        "gauge_1=.009",
        "rod=dual",
        "turns_left=2",
        "board_radius_mm=10-16",
        "owner=Bo",
    )
    made = run("instrument", taken_in, *typed, "--units", "in")
    assert "scale_mm=24.75in\n" in made
    assert "board_radius_mm=10in-16in\n" in made
    assert "owner=Bo\n" in made
    instrument = json.loads(run("visit", taken_in, "--file", "-"))["instrument"]
    assert (instrument["scale_mm"], instrument["strings"][0]["diameter_mm"]) == (628.65, 0.2286)
    assert instrument["rod"] == {"kind": "dual", "turns_left": 2.0}
    told = shlex.split("\n".join(made.splitlines()[1:]))
    assert "nothing is changed" in run("instrument", taken_in, *told, "--units", "in", code=2)
    assert "owner=\n" in run("instrument", taken_in, "owner=", "turns_left=")


def test_an_odd_string_that_is_right_is_said_to_be_so_once(run, taken_in):
    """A thin third is asked about until a person says that it is so; another one is asked about again."""

    def asked() -> str:
        return " ".join(run("visit", taken_in, "--plan").split())

    run("instrument", taken_in, "gauge_3=.25mm", "make_3=plain-steel")
    assert "String 3 at G3 pulls" in asked()
    assert "breakangle instrument 1 as_told_3=yes" in asked()
    assert "it must be yes, or nothing" in run("instrument", taken_in, "as_told_3=maybe", code=2)
    assert "as_told_3=yes\n" in run("instrument", taken_in, "as_told_3=yes")
    assert "String 3 at G3 pulls" not in asked()
    instrument = json.loads(run("visit", taken_in, "--file", "-"))["instrument"]
    (third,) = [one for one in instrument["strings"] if one["string"] == 3]
    assert (third["diameter_mm"], third["as_told"]) == (0.25, True)
    assert "as_told_3=yes\n" in run("instrument", taken_in, "gauge_1=.009in")
    assert "as_told_3=\n" in run("instrument", taken_in, "make_3=wound-steel", "core_3=.1mm")
    assert "as_told_3=yes\n" in run("instrument", taken_in, "make_3=plain-steel", "as_told_3=yes")
    assert "as_told_3=\n" in run("instrument", taken_in, "gauge_3=.24mm")
    assert "String 3 at G3 pulls" in asked()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("1", "scale=628"),
            '"scale" is nothing that is told of this instrument; one of name, serial_number, ',
        ),
        (("1", "gauge_7=.009"), "or of a string from 1 to 6 note_N, gauge_N, "),
        (("1", "scale_mm=long"), "scale: 'long' is not a length"),
        (("1", "rod=triple"), 'rod.kind is "triple"; it must be one of'),
        (("1", "make_1=wool"), 'make is "wool"; it must be one of plain-steel, '),
        (("1", "post=glued"), 'the tuner post is "glued"; it must be one of plain, '),
        (("1", "frets=8"), "joint_fret is 17; it must be a whole number from 4 to 8"),
        (("1", "frets=21"), "sheet 1: "),  # which was read over fret 22
        (("1", "frets=22"), "nothing is changed"),
        (("1", "frets"), "a word without ="),
        (("2", "frets=21"), "there is no sheet 2"),
        (("first",), '"first" is no sheet number'),
        (
            ("1", "frets=24", "--seen", "1"),
            "there: frets=22\nyours: frets=24\nbreakangle: this instrument was",
        ),
    ],
)
def test_what_cannot_be_of_an_instrument_is_said_in_one_sentence(run, taken_in, words, said):
    run("read", taken_in, "gap", "string=6", "fret=22", "held=1", "mm=1.8")
    assert said in run("instrument", *words, code=2)
    assert "frets=22\n" in run("instrument", taken_in)


def test_strings_that_a_visit_took_are_seen_there_and_put_back_from_there(run, taken_in):
    run("stock", "--add", "light set", "3", "1")
    assert run("stock", "--take", "light set", "2", "--for", taken_in) == "    1  light set\n"
    assert run("visit", taken_in).endswith("used: 2 × light set\n")
    key = run("list", "stock").splitlines()[1].split(",")[0]
    assert "sheet 1 took 2 of it; 1 are there; " in run("change", "stock", key, "--undo", code=2)
    assert "--for by itself" in run("stock", "--for", taken_in, code=2)
    assert "--put-back by itself" in run("stock", "--put-back", "light set", code=2)
    assert run("stock", "--put-back", "light set", "--for", taken_in) == "    3  light set\n"
    assert "used" not in run("visit", taken_in).splitlines()[-1]
