"""What is typed of a kind of instrument, box by box: its name, shape, strings, targets and tolerances."""

from collections.abc import Mapping
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.kind.kind_table import KindTable
from breakangle.model.measure import INCH_MM, parse_length
from breakangle.model.typed_number import number_within, whole_within
from breakangle.model.words.speech import mark, tr
from breakangle.planning.estimate.units_doubted.likelihood import Expectation
from breakangle.reference.families import HANDS
from breakangle.services.service_files.kinds.copied import LONGEST_NAME, SCREWS, checked_table
from breakangle.services.service_files.kinds.strings_typed import strings_text, strings_typed
from breakangle.services.typed_values.doubtful_units import refuse_doubted_size

# Lengths by their box: in which part of the table, what they are called, and what can be meant (mm; chosen).
SIZES = {
    "scale_mm": (mark("scale"), 200.0, 1300.0),
    "board_radius_mm": (mark("board radius"), 50.0, 5000.0),
    "spread_nut_mm": (mark("spread of the strings at the nut"), 0.0, 150.0),
    "spread_bridge_mm": (mark("spread of the strings at the bridge"), 0.0, 150.0),
}
WHOLE = {"frets": mark("frets"), "joint_fret": mark("body joins at fret")}
CHOICES = {
    "bridge": ("individual", "two-post", "one-piece", "floating"),
    "anchor": ("ball", "pins", "tied"),
    "head": ("plain", "slotted"),
    "electrics": ("yes", "no"),
    "stands_loose": ("yes", "no"),
    "on_top": ("yes", "no"),
}
TARGETS = {
    "relief_mm": mark("relief"), "action_low_mm": mark("action, lowest string"),
    "action_high_mm": mark("action, highest string"), "nut_low_mm": mark("nut clearance, lowest string"),
    "nut_high_mm": mark("nut clearance, highest string"),
}  # fmt: skip
GOOD = {"relief_mm": mark("relief"), "action_mm": mark("action"), "nut_mm": mark("nut clearance")}
GOOD_CENTS = "good_intonation_cents"
FLAT = "flat"
MOST_MM = 10.0  # chosen: of a height
WISHED_RATIO = (
    0.4  # a figure of a kind lies within about that of the nearest kind's; common practice, no source
)


def boxes_of(table: KindTable, own_unit: str = "mm") -> dict[str, str]:
    """Return what each box of a kind says, in the person's unit; typed back, it gives the same kind."""
    shape, found = table.shape, {"words": str(table.words)}
    for name in SIZES:
        mm = getattr(shape, name)
        found[name] = FLAT if mm is None else _written(mm, own_unit)
    found |= {name: str(getattr(shape, name)) for name in WHOLE}
    yes = {True: "yes", False: "no"}
    found |= {
        "bridge": table.bridge.kind, "anchor": shape.anchor, "head": shape.head, "electrics": yes[shape.electrics],
        "stands_loose": yes[table.bridge.stands_loose], "on_top": yes[table.bridge.on_top],
        "strings": strings_text(table.stringing.rows, own_unit),
    }  # fmt: skip
    for hand in HANDS:
        of = getattr(table.targets, hand)
        found |= {f"{hand}_{name}": _written(getattr(of, name), own_unit) for name in TARGETS}
    found |= {f"good_{name}": _written(getattr(table.tolerances, name), own_unit) for name in GOOD}
    return found | {GOOD_CENTS: f"{table.tolerances.intonation_cents:g}"}


def kind_typed(base: KindTable, typed: Mapping[str, str], own_unit: str = "mm") -> KindTable:
    """Return the kind that the boxes describe; a box that is not there leaves what `base` has.

    Raises:
        CorrectInputError: an unknown box, or what cannot be right, one sentence for each.
    """
    stands = boxes_of(base, own_unit)
    unknown = sorted(set(typed) - set(stands))
    if unknown:
        raise CorrectInputError(
            tr('"{name}" is nothing that is told of a kind', name=unknown[0][:40]),
            tr("one of {known}", known=", ".join(stands)),
            "",
        )
    row, problems = base.plain(), list[str]()
    for name, text in typed.items():
        if same_typed(text, stands[name]):
            continue
        try:
            _put(row, base, name, text.strip(), own_unit)
        except CorrectInputError as cause:
            problems.append(str(cause).rstrip("."))
    if problems:
        raise CorrectInputError("; ".join(problems), "", tr("correct it and try again"))
    return checked_table(row)


def same_typed(one: str, other: str) -> bool:
    """Return whether two boxes say the same, however the browser ends a line."""
    return _lines(one) == _lines(other)


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _put(row: dict[str, Any], base: KindTable, name: str, text: str, own_unit: str) -> None:
    """Put one box into the table's row."""
    part, _, figure = name.partition("_")
    if name == "words":
        if len(text) > LONGEST_NAME:
            raise CorrectInputError(
                tr("the name has {count} signs", count=len(text)), tr("at most {most}", most=LONGEST_NAME), ""
            )
        row["words"] = text
    elif name == "strings":
        rows = strings_typed(text, own_unit, base.stringing.rows)
        row["stringing"] = {"rows": rows, "source": _own()}
    elif name in CHOICES:
        _choose(row, name, text)
    elif name in WHOLE:
        row["shape"][name] = _whole(WHOLE[name], text)
    elif name == "board_radius_mm" and text.casefold() in ("", FLAT, tr(FLAT)):
        row["shape"].pop(name, None)
    elif name in SIZES:
        words, low, high = SIZES[name]
        row["shape"][name] = _length(words, text, own_unit, low, high)
    elif name == GOOD_CENTS:
        cents = number_within(text, 0.1, 50.0, ("cents", "cent", "c"))
        if cents is None:
            raise CorrectInputError(
                tr('good intonation is "{text}"', text=text[:20]), tr("a number of cents"), ""
            )
        row["tolerances"] |= {"intonation_cents": cents, "source": _own()}
    elif part == "good":
        mm = _near(tr("good {what}", what=tr(GOOD[figure])), text, getattr(base.tolerances, figure), own_unit)
        row["tolerances"] |= {figure: mm, "source": _own()}
    else:
        usual = getattr(getattr(base.targets, part), figure)
        words = tr("{what}, {hand} hand", what=tr(TARGETS[figure]), hand=tr(part))
        row["targets"][part] |= {figure: _near(words, text, usual, own_unit), "source": _own()}


def _choose(row: dict[str, Any], name: str, text: str) -> None:
    if text not in CHOICES[name]:
        raise CorrectInputError(
            tr('{name} is "{text}"', name=name.replace("_", " "), text=text[:20]),
            tr("one of {known}", known=", ".join(CHOICES[name])),
            "",
        )
    if name == "bridge":  # another bridge: the screws of the nearest kind's tell nothing of it
        for screw in SCREWS:
            row["bridge"].pop(screw, None)
        row["bridge"] |= {"kind": text, "source": _own()}
    elif name in ("stands_loose", "on_top"):
        row["bridge"][name] = text == "yes"
    else:
        row["shape"][name] = text == "yes" if name == "electrics" else text


def _whole(words: str, text: str) -> int:
    found = whole_within(text, 0, 99)
    if found is None:
        raise CorrectInputError(
            tr('{what} is "{text}"', what=tr(words), text=text[:20]), tr("a whole number"), ""
        )
    return found


def _length(words: str, text: str, own_unit: str, low: float, high: float) -> float:
    try:
        return round(parse_length(text, own_unit, low, high).mm, 4)
    except CorrectInputError as cause:
        raise CorrectInputError(f"{tr(words)}: {cause.given}", cause.possible, cause.remedy) from cause


def _near(words: str, text: str, usual_mm: float, own_unit: str) -> float:
    expected = Expectation(usual_mm, max(WISHED_RATIO * usual_mm, 0.05), sized=True)
    return round(refuse_doubted_size(text, words, expected, own_unit, 0.0, MOST_MM), 4)


def _written(mm: float, own_unit: str) -> str:
    return f"{mm:g} mm" if own_unit == "mm" else f"{mm / INCH_MM:.4g} in"


def _own() -> str:
    return tr("the shop's own")
