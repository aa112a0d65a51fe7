"""Numbers among a verb's options, typed as everywhere: `type=number` and `type=whole` of an argparse option."""

import argparse

from breakangle.model.words.speech import tr

MOST = 1e12


def number(text: str) -> float:
    """Return the number that was typed.

    Raises:
        argparse.ArgumentTypeError: no number, or one that can be two.
    """
    from breakangle.model.typed_number import number_within

    found = number_within(text, -MOST, MOST)
    if found is None:
        raise argparse.ArgumentTypeError(
            tr("{text!r} is not a number; write it like 0.25, 0,25 or 1/4", text=text)
        )
    return found


def whole(text: str) -> int:
    """Return the whole number that was typed.

    Raises:
        argparse.ArgumentTypeError: no whole number, or one that can be two.
    """
    from breakangle.model.typed_number import whole_within

    found = whole_within(text, -int(MOST), int(MOST))
    if found is None:
        raise argparse.ArgumentTypeError(tr("{text!r} is not a whole number; write it like 3", text=text))
    return found
