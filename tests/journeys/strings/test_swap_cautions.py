"""What speaks against a swap is said first: strings at their strength, steel on a nylon guitar, too great a load."""

import json
import re
from pathlib import Path

import pytest

from breakangle.cli.main import main
from breakangle.model.service_file import service_text
from breakangle.reference.families import family
from breakangle.services.service_files.example import empty_service
from breakangle.services.strings.string_set import strings
from breakangle.services.strings.typed_strings import set_typed, typed_strings
from breakangle.services.swap.comparison import Swap, swap
from breakangle.web.forms.strings import strings_form

BASS = empty_service(family("bass-four"))
ELECTRIC = empty_service(family("electric-guitar"))
NYLON = empty_service(family("nylon-acoustic-guitar"))
STEEL_SIZES = (".012", ".016", ".024", ".032", ".042", ".053")


def steel_on_nylon() -> Swap:
    typed = {f"diameter-{n}": size for n, size in enumerate(STEEL_SIZES, 1)}
    typed |= {f"make-{n}": "plain-steel" if n < 3 else "wound-steel" for n in range(1, 7)}
    return swap(NYLON, typed_strings(NYLON.instrument, strings_form({**typed, "every": "yes"}), "mm"))


def test_a_string_tuned_beyond_its_strength_is_refused_and_no_step_leads_there():
    """Pull goes with the square of pitch (Mersenne, Harmonie universelle, 1636): nine semitones are 2.83 times it."""
    before = strings(BASS).strings[0].working_share
    found = swap(BASS, notes={1: "E3"})
    first = found.cautions[0]
    assert (first.string, first.refuses) == (1, True)
    low, high = (100.0 * 2.0 ** (18 / 12) * share for share in before)
    assert low > 100.0
    assert f"{low:.0f} to {high:.0f} % of what it breaks at" in first.words
    assert "Not this string at this note" in first.words
    assert (found.plan.steps, found.plan.questions, found.cuts_wait) == ((), (), "")
    assert found.plan.verdict == "beyond-setup"
    assert "choose other strings or notes" in found.sentence


def test_the_lower_note_that_is_offered_is_enough_and_a_semitone_more_is_not():
    found = swap(ELECTRIC, notes={1: "B4"}).cautions[0]
    lower = re.search(r"Tune it (\d+) semitones lower", found.words)
    assert lower is not None
    assert lower[1] == "3"
    assert not [one for one in swap(ELECTRIC, notes={1: "G#4"}).cautions if one.string == 1]
    near = next(one for one in swap(ELECTRIC, notes={1: "A4"}).cautions if one.string == 1)
    assert not near.refuses
    assert "may break on the way to pitch" in near.words


def test_steel_on_a_guitar_built_for_nylon_is_refused_and_the_load_is_told():
    found = steel_on_nylon()
    steel, load = found.cautions
    assert steel.refuses
    assert "built for nylon: do not" in steel.words
    assert f"{found.new.total_n.value:.0f} N" in load.words
    assert f"{found.old.total_n.value:.0f} N" in load.words  # as it comes it is strung as is usual
    assert found.plan.steps == ()


@pytest.mark.parametrize(
    ("sizes", "cautioned"),
    [
        ((".011", ".014", ".018", ".028", ".038", ".049"), False),
        ((".013", ".017", ".026", ".036", ".046", ".056"), True),
    ],
)
def test_the_next_heavier_set_is_a_matter_of_taste_and_far_heavier_ones_are_cautioned(
    sizes: tuple[str, ...], cautioned: bool
):
    found = swap(ELECTRIC, set_typed(ELECTRIC, sizes))
    assert bool(found.cautions) is cautioned
    assert found.plan.steps  # taste or not, it can be done
    assert all("ask a specialist" in one.words for one in found.cautions)


def test_the_command_says_it_before_anything_else(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    path = tmp_path / "bass.json"
    path.write_text(service_text(BASS), encoding="utf-8")
    assert main(["swap", str(path), "--tune", "1=E3"]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert page.startswith("Not this string at this note: string 1 at E3")
    assert "No steps are given" in page
    assert main(["swap", str(path), "--tune", "1=E3", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert next(iter(told)) == "cautions"
    assert told["cautions"][0]["refuses"] is True
    assert told["plan"]["steps"] == []
