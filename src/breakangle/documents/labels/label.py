"""A label for a case or neck pocket: the settings, and a code that holds an opaque name and nothing of a person."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from breakangle.documents.renderers.typesetting import typeset
from breakangle.documents.sheets.standing import Group, Standing
from breakangle.documents.sheets.words import day_words, printed
from breakangle.documents.true_size.tiling import Paper
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument, String
from breakangle.model.measure import INCH_MM
from breakangle.model.words.speech import mark, tr

WIDE_MM, TALL_MM = 74.0, 37.0  # two beside each other fit A4 and Letter
EDGE_MM, GAP_MM = 15.0, 4.0
SHORT = {"relief": mark("Relief"), "action": mark("Action, 12th"), "nut clearance": mark("Nut")}


@dataclass(frozen=True)
class Label:
    """What a label says: an opaque name, the day and what it is of, tuning, strings, settings; never whose it is."""

    key: str
    day_of: str
    day: date
    tuning: str
    strings: str
    settings: tuple[tuple[str, str], ...]
    code_svg: str
    note: str = ""
    mark: str = ""  # the shop's tag, else the serial number


def label_settings(standing: Standing) -> tuple[tuple[str, str], ...]:
    """Return names and figures of what is known of the settings: relief, then bass and treble of the rest."""
    known = [group for group in standing.groups if group.name in SHORT and group.judged(after=True)]
    return tuple((tr(SHORT[one.name]), _ends(one)) for one in known)


def _ends(group: Group) -> str:
    """Return the figure at the lowest and at the highest string that is known."""
    judged = sorted(group.judged(after=True), key=lambda one: -one.string)
    ends = [judged[0]] if len(judged) == 1 else [judged[0], judged[-1]]
    told = [
        printed(end.printed(True), end.after_spread, end.unit, end.read(True) is not None) for end in ends
    ]
    return f"{' / '.join(told)} {tr(group.unit)}"


def courses_words(instrument: Instrument) -> tuple[str, str]:
    """Return tuning and string sizes from the lowest course up: each course once, unlike strings with a stroke."""
    found: dict[int, list[String]] = {}
    for one in reversed(instrument.in_order()):
        found.setdefault(one.course or one.string, []).append(one)
    notes = (dict.fromkeys(one.note for one in course) for course in found.values())
    sizes = (dict.fromkeys(_inches(one.diameter_mm) for one in course) for course in found.values())
    return " ".join("/".join(note) for note in notes), " ".join("/".join(size) for size in sizes) + " in"


def _inches(diameter_mm: float) -> str:
    return f"{diameter_mm / INCH_MM:.3f}".removeprefix("0")


def label_data(labels: Sequence[Label], on: Paper | None) -> dict[str, Any]:
    """Return what the setting needs; `on` None: each label a page of its own size, for a label printer."""
    return {
        "title": tr("Labels: {labels_count}", labels_count=len(labels))
        if len(labels) != 1
        else tr("Label {labels_key}", labels_key=labels[0].key),
        "wide": WIDE_MM,
        "tall": TALL_MM,
        "single": on is None,
        "width": on.width_mm if on else WIDE_MM,
        "height": on.height_mm if on else TALL_MM,
        "edge": EDGE_MM,
        "gap": GAP_MM,
        "labels": [
            {
                "key": label.key,
                "day_of": label.day_of,
                "day": day_words(label.day),
                "tuning": label.tuning,
                "strings": label.strings,
                "settings": label.settings,
                "note": label.note,
                "mark": label.mark,
                "svg": label.code_svg,
            }
            for label in labels
        ],
    }


def labels_pdf(labels: Sequence[Label], on: Paper | None = None) -> bytes:
    """Return labels of 74 by 37 mm as a tagged PDF: on a sheet with lines to cut, or each on a page of its own size.

    Raises:
        CorrectInputError: no labels.
        InstallError: the typesetter is not installed.
    """
    if not labels:
        raise CorrectInputError(
            tr("there is no label to print"), "", tr("choose an instrument that has been read")
        )
    return typeset("label", label_data(labels, on))
