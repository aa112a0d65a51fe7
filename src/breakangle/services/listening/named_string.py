"""Whether a take can be of the strings looked for, and of the one string that somebody named."""

from collections.abc import Sequence
from math import log2

from breakangle.listening.naming.naming import Name, OpenString
from breakangle.listening.naming.octaves import Kind
from breakangle.listening.stream import Take
from breakangle.listening.takes.reasons import Verdict, reason
from breakangle.model.instrument import Instrument

# A loose string may be this far below its note, in cents; what is lower is no string's.
LOWEST_CENTS = -800.0  # common practice, no source
SAME_NOTE_CENTS = 50.0  # exact: half a semitone is nearer to the next note
LEAST_COURSE_CENTS = 1.0  # two polarisations of one string are mostly closer; common practice, no source


def kind_of(name: Name | None, strings: Sequence[OpenString]) -> Kind | None:
    """Open, harmonic or fretted octave; None for any other note."""
    if name is None:
        return None
    if name.harmonic == 2:
        return "harmonic"
    octave = next(one.octave_fret for one in strings if one.number == name.string)
    known = name.harmonic is None and name.fret in (0, octave)
    return ("fretted" if name.fret else "open") if known else None


def high_enough(take: Take, strings: Sequence[OpenString]) -> Take:
    """The take, refused if it is lower than any of these strings can be."""
    if take.pitch is None or not strings:
        return take
    lowest = min(one.open_hz for one in strings) * 2 ** (LOWEST_CENTS / 1200)
    return take.doubted(reason("too-low", True)) if take.pitch.law.partial_one_hz < lowest else take


def of_the_course(take: Take, name: Name | None, instrument: Instrument) -> Take:
    """The take, doubted where two strings of one course are heard apart: neither line is both strings' pitch."""
    if take.pitch is None or name is None or instrument.course_of(name.string) is None:
        return take
    apart = take.pitch.lines.apart_cents
    return take.doubted(reason("course", False, f"{apart:.1f}")) if apart >= LEAST_COURSE_CENTS else take


def of_the_named(take: Take, name: Name | None, named: int, strings: Sequence[OpenString]) -> Take:
    """The take, doubted where it can hardly be of the string that somebody named.

    The named string has no such note; or only at a fret that is seldom read, and another string has it open or at
    its octave, where notes mostly are read.

    Args:
        take: what was heard.
        name: what it is called when only the named string is looked for.
        named: that string's number.
        strings: all of the instrument's strings.
    """
    if take.pitch is None or take.verdict is Verdict.REFUSED:
        return take
    if name is None:
        return take.doubted(reason("not-this-string", False))
    if kind_of(name, strings) is not None:
        return take
    others = [one.open_hz * ratio for one in strings if one.number != named for ratio in (1.0, 2.0)]
    likely = any(abs(1200 * log2(name.note_hz / hz)) < SAME_NOTE_CENTS for hz in others)
    return take.doubted(reason("other-string", False)) if likely else take
