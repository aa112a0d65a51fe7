"""Figures in plain words: how well a thing is known, days, lists."""

from collections.abc import Sequence
from datetime import date

from breakangle.model.words.speech import mark, tr, tr_n

MONTHS = (
    mark("January"), mark("February"), mark("March"), mark("April"), mark("May"), mark("June"), mark("July"),
    mark("August"), mark("September"), mark("October"), mark("November"), mark("December"),
)  # fmt: skip
# Twice the standard uncertainty up to this, and how a person would say it.
SURE_MM = (
    (0.03, mark("to within two or three hundredths of a millimetre")),
    (0.065, mark("to within a few hundredths of a millimetre")),
    (0.13, mark("to within about a tenth of a millimetre")),
    (0.3, mark("to within a quarter of a millimetre or so")),
    (float("inf"), mark("only roughly")),
)
SURE_CENTS = (
    (1.2, mark("to within about a cent")),
    (3.5, mark("to within two or three cents")),
    (7.0, mark("to within five cents or so")),
    (float("inf"), mark("only roughly")),
)
NO_BREAK = "\N{NO-BREAK SPACE}"
RECKONED = "≈"
FINE = ((0.13, 2), (1.2, 1))  # of mm, of cents: twice the uncertainty up to which so many decimals are shown


def how_sure(spread: float, unit: str) -> str:
    """Return in words how well a figure with this standard uncertainty, in `unit`, is known."""
    steps = SURE_CENTS if unit == "cents" else SURE_MM
    return next(words for most, words in steps if 2.0 * spread <= most)


def number(value: float, spread: float, unit: str) -> str:
    """Return a figure without its unit, with no more digits than its standard uncertainty supports."""
    most, finest = FINE[unit == "cents"]
    decimals = finest if 2.0 * spread <= most else finest - 1
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.removeprefix("-")
    return text.replace("-", "−")


def printed(value: float, spread: float, unit: str, read: bool) -> str:
    """Return a figure without its unit: as it was read, or reckoned: marked, and no finer than it is known."""
    if not read:
        return f"{RECKONED}{NO_BREAK}{number(value, spread, unit)}"
    return number(value, 0.0, unit)


def figure(value: float, spread: float, unit: str) -> str:
    """Return a figure with its unit, which no line's end parts from it; digits as `number` has them."""
    return f"{number(value, spread, unit)}{NO_BREAK}{tr(unit)}"


def day_words(day: date) -> str:
    """Return a day as a letter would write it: 3 March 2027."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def listed(items: Sequence[str]) -> str:
    """Return items with commas between, and `and` before the last."""
    return (
        items[0]
        if len(items) == 1
        else tr("{items} and {last}", items=", ".join(items[:-1]), last=items[-1])
        if items
        else ""
    )


def strings_words(numbers: Sequence[int]) -> str:
    """Return strings by their numbers, runs drawn together: string 2; strings 1 to 4 and 6."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    parts = []
    for low, high in runs:
        parts += (
            [str(low)]
            if low == high
            else [str(low), str(high)]
            if high == low + 1
            else [tr("{low} to {high}", low=low, high=high)]
        )
    return tr_n("string {numbers}", "strings {numbers}", len(numbers), numbers=listed(parts))


def a_sentence(text: str) -> str:
    """Return words as a sentence: a capital first, a full stop last."""
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('.', '?', '!')) else '.'}"
