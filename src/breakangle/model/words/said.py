"""Sentences with figures in them, written for mm and a decimal point, as another person writes them."""

import re
from collections.abc import Callable, Iterable
from functools import lru_cache

from breakangle.model.measure import INCH_MM
from breakangle.model.words.speech import mark, tr, tr_n

RANGE = mark("{first} to {last}")  # every range of figures is said so
# On paper no line's end parts a figure from its unit: such a space counts as one.
LENGTH = (
    r"(?:(?P<low>\d+\.\d+)%s)?(?P<mm>[−-]?\d+\.(?P<after>\d+))(?P<gap>[ \u00a0])mm"
    r"(?P<spread> ± (?P<wide>\d+\.\d+))?(?! per mm)"
)
# Whole mm: a scale of 648 mm; a spare end of 25 mm; across the nut, 35 to 43 mm.
WHOLE = r"(?<![\d.,])(?:(\d{1,4})%s)?(\d{1,4})[ \u00a0]mm\b(?! per| \()"
DECIMAL = re.compile(r"(?<![\d.])[−-]?\d+\.\d+(?![\d.])")


def figured(value: float, decimals: int) -> str:
    """Return a number as it is printed: with a true minus, and nothing is never less than nothing."""
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text.replace("-", "−")


def strings_in_words(numbers: Iterable[int]) -> str:
    """Return strings by their numbers: `string 2`, `strings 1 and 6`, `strings 1 to 4 and 6`."""
    strings = set(numbers)
    return tr_n("string {numbers}", "strings {numbers}", len(strings), numbers=numbers_in_words(strings))


def frets_in_words(numbers: Iterable[int]) -> str:
    """Return frets by their numbers: `fret 9`, `frets 7 to 10 and 14`."""
    frets = set(numbers)
    return tr_n("fret {numbers}", "frets {numbers}", len(frets), numbers=numbers_in_words(frets))


def numbers_in_words(numbers: Iterable[int]) -> str:
    """Return whole numbers in their order, those that follow each other as a range: `1 to 4 and 6`."""
    runs: list[list[int]] = []
    for one in sorted(set(numbers)):
        if runs and one == runs[-1][-1] + 1:
            runs[-1].append(one)
        else:
            runs.append([one])
    parts = []
    for run in runs:
        parts += [tr(RANGE, first=run[0], last=run[-1])] if len(run) > 2 else [str(one) for one in run]
    last = tr(" and {parts}", parts=parts[-1]) if len(parts) > 1 else ""
    return ", ".join(parts[:-1]) + last if last else "".join(parts)


def said_in(
    sentence: str,
    lengths: Callable[[bool, float, float], tuple[str, str]],
    unit: str,
    number: Callable[[str], str] | None = None,
) -> str:
    """Return a sentence with its lengths in another unit.

    Args:
        sentence: with lengths as `1.40 mm` or `1.40 mm ± 0.06`; one as `41.2 mm` is coarse.
        lengths: writes a length in mm and the ± behind it (0 where there is none), without their unit; the first
            argument says whether they are coarse.
        unit: the unit's name.
        number: writes every other number with decimals, given as text; None leaves them.
    """

    def written(found: re.Match[str]) -> str:
        mm = float(found["mm"].replace("−", "-"))
        length, wide = lengths(len(found["after"]) == 1, mm, float(found["wide"] or 0.0))
        if found["low"]:
            length = tr(RANGE, first=lengths(False, float(found["low"]), 0.0)[0], last=length)
        return f"{length}{found['gap']}{unit}" + (f" ± {wide}" if found["spread"] else "")

    pattern = _length_pattern(tr(RANGE))
    if number is None:
        return pattern.sub(written, sentence)
    parts, at = [], 0
    for found in pattern.finditer(sentence):
        parts += [_numbers(sentence[at : found.start()], number), written(found)]
        at = found.end()
    return "".join([*parts, _numbers(sentence[at:], number)])


@lru_cache(maxsize=8)
def _length_pattern(said_range: str) -> re.Pattern[str]:
    """Return the pattern of a length, or a range of them, in the language that says a range so."""
    return re.compile(LENGTH % re.escape(_between(said_range)))


def whole_in_inches(sentence: str, written: Callable[[str], str] = str) -> str:
    """Return a sentence with its lengths of whole mm, such as `648 mm`, in inches to a hundredth.

    `written`: writes a number, given as text with a point, as its reader does.
    """

    def inches(found: re.Match[str]) -> str:
        low, length = (written(f"{float(mm) / INCH_MM:.2f}") if mm else "" for mm in found.groups())
        return f"{tr(RANGE, first=low, last=length) if low else length} in"

    return _whole_pattern(tr(RANGE)).sub(inches, sentence)


@lru_cache(maxsize=8)
def _whole_pattern(said_range: str) -> re.Pattern[str]:
    return re.compile(WHOLE % re.escape(_between(said_range)))


def _between(said_range: str) -> str:
    """Return what stands between the two ends of a range."""
    return said_range.partition("{first}")[2].partition("{last}")[0]


def _numbers(text: str, number: Callable[[str], str]) -> str:
    return DECIMAL.sub(lambda found: number(found[0].replace("−", "-")), text)
