"""What a form's fields are called stays in `web/forms`: a service gets typed values, not a mapping of fields.

Left out are names that the command line has, too, and those of columns: boxes of an instrument (`breakangle correct`),
columns of a record (`breakangle change`), figures of the house targets, of a kind (`breakangle kind --set`), words of
a sheet.
"""

import ast

import pytest

from house.source_rules import PACKAGE, Source, functions, source

SHARED = (
    "services/intake/corrected_instrument.py",
    "services/intake/typed_instrument.py",
    "services/intake/typed_string.py",
    "services/records/edit.py",
    "services/records/lists.py",
    "services/service_files/kinds/boxes.py",
    "services/visit_sheets/sheet.py",
    "services/visits/instrument_identity/typed_marks.py",
    "services/workshop/house_targets.py",
)
FIELDS = ("Mapping[str, str]", "dict[str, str]")


def takes_fields(file: Source) -> list[str]:
    """Return the functions that take a mapping of what was typed."""
    return [
        node.name
        for node in functions(file)
        for argument in (*node.args.args, *node.args.kwonlyargs)
        if argument.arg == "typed" and argument.annotation and ast.unparse(argument.annotation) in FIELDS
    ]


def test_no_service_takes_the_fields_of_a_form():
    places = {path.relative_to(PACKAGE).as_posix(): path for path in (PACKAGE / "services").rglob("*.py")}
    assert len(places) > 100
    found = {place for place, path in places.items() if takes_fields(source(place, path.read_text("utf-8")))}
    assert found == set(SHARED)


@pytest.mark.parametrize("kind", FIELDS)
def test_service_that_takes_the_fields_of_a_form_is_found(kind: str):
    planted = source(
        "services/made_up.py", f'def keep(shop: Shop, typed: {kind}) -> None:\n    """Keep."""\n'
    )
    assert takes_fields(planted) == ["keep"]
