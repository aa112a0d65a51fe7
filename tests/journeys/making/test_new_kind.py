"""A new kind of instrument is one file; until it is written, a plan says whose targets it borrowed."""

import json
import re

import pytest

from breakangle.model.instrument import String
from breakangle.reference.families import families, family
from breakangle.services.service_files.example import empty_service
from breakangle.services.service_files.service import plan_service
from house.test_newcomer import DATA, Copy

CITTERN_SCALE_MM, OCTAVE_SCALE_MM = 480.0, 530.0  # of such instruments; from memory
LOW_PAIR = """  { string = 9, note = "C3", make = "wound-steel", diameter_mm = 1.37, core_mm = 0.457, wrap = "phosphor-bronze", course = 5 },
  { string = 10, note = "C3", make = "wound-steel", diameter_mm = 1.37, core_mm = 0.457, wrap = "phosphor-bronze", course = 5 },
]
"""  # noqa: E501


def ten_strings(text: str) -> str:
    """The mandolin's file with a fifth course, longer, an octave and a fifth lower."""
    text = text.replace("mandolin, four double courses", "cittern, five double courses")
    text = re.sub(r"^scale_mm = .*$", f"scale_mm = {CITTERN_SCALE_MM}", text, count=1, flags=re.MULTILINE)
    for old, new in (("E5", "D4"), ("A4", "A3"), ('D4", make = "wound', 'E3", make = "wound'), ("G3", "A2")):
        text = text.replace(f'"{old}', f'"{new}')
    return text.replace("\n]\n\n# What an instrument", f"\n{LOW_PAIR}\n# What an instrument", 1)


@pytest.fixture
def copy(tmp_path) -> Copy:
    return Copy(tmp_path)


def test_a_ten_string_cittern_is_one_file(copy: Copy, tmp_path):
    """Copied from the mandolin, with ten strings: example, plan, frets, nut and design have it by themselves."""
    copy.write(f"{DATA}/families/cittern-ten.toml", ten_strings(copy.read(f"{DATA}/families/mandolin.toml")))
    told = json.loads(copy.breakangle("example", "cittern-ten"))
    assert len(told["instrument"]["strings"]) == 10
    file = tmp_path / "one.json"
    file.write_text(json.dumps(told))
    assert len(json.loads(copy.breakangle("make", "nut", str(file), "--json"))["figures"]["slots"]) == 10
    designed = json.loads(copy.breakangle("design", "cittern-ten", "--json"))
    assert designed["inside_ratio"] == pytest.approx(0.95, abs=0.01)
    assert len(copy.touched) == 1


def test_an_ordinary_instrument_borrows_nothing():
    for kind in families():
        notes = " ".join(plan_service(empty_service(family(kind), "one")).notes)
        assert "borrowed" not in notes, kind


def test_a_longer_scale_and_another_number_of_strings_are_told_as_borrowed():
    octave = empty_service(family("mandolin"), "Octave")
    longer = octave.instrument.model_copy(update={"scale_mm": OCTAVE_SCALE_MM})
    said = " ".join(plan_service(octave.model_copy(update={"instrument": longer})).notes)
    assert "borrowed from a kind of 8 strings and 353.00 mm" in said
    ten = octave.instrument
    more = tuple(String(string=n, note="C3", make="wound-steel", diameter_mm=1.37, core_mm=0.457,
                        wrap="phosphor-bronze", course=5) for n in (9, 10))  # fmt: skip
    ten = type(ten).model_validate(ten.model_dump(exclude_unset=True) | {"strings": (*ten.strings, *more)})
    said = " ".join(plan_service(octave.model_copy(update={"instrument": ten})).notes)
    assert "for this one of 10 strings" in said
