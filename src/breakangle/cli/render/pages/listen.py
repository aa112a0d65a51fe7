"""What was heard, as a table, as JSON and as words: takes, intonation, how hard they were played."""

from collections.abc import Iterator
from math import exp
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.page import bullets, grid, heading, paragraph, print_page
from breakangle.listening.takes.reasons import Verdict
from breakangle.model.playing import PlayedStrengths
from breakangle.model.words.speech import mark, tr
from breakangle.reference.strength import STRENGTHS
from breakangle.services.listening.decays import DeadNote, dead_notes, ringing_of, rings_s

if TYPE_CHECKING:
    from rich.console import Console

    from breakangle.services.listening.takes import Listened, NamedTake

ORDER_HINT = mark(
    "listen to the same recording again with, say, --order open,harmonic,fretted if that is what was played"
)
NO_PLUCK = mark("No pluck was heard. Record again: closer to the strings, louder, one string at a time.")
MIXED = ("second-string", "too-low")
PLUCK = 5  # the column of how far a string was pulled


def as_json(heard: "Listened", reference_hz: float) -> dict[str, Any]:
    """The answer as plain data; numbers no finer than they are known."""
    return {
        "format": "breakangle/listen/1",
        "takes": [_take_json(take, reference_hz) for take in heard.takes],
        "intonation": [
            {
                "string": one.string,
                "cents": round(one.intonation.cents, 2),
                "uncertainty_cents": round(one.intonation.uncertainty_cents, 2),
                "disagreements": list(one.intonation.disagreements),
            }
            for one in heard.intonation
        ],
        "loudness": [one.to_json() for one in heard.loudness],
        "dead_notes": [one.to_json() for one in _dead(heard)],
    }


def _take_json(one: "NamedTake", reference_hz: float) -> dict[str, Any]:
    """One take as plain data; what is not known is null."""
    pitch, name = None if _mixed(one) else one.take.pitch, one.name
    cents = name.cents if name else _nearest(pitch.law.partial_one_hz, reference_hz)[1] if pitch else None
    return {
        "file": str(one.path),
        "start_s": round(one.take.start_s, 3),
        "end_s": round(one.take.end_s, 3),
        "window_s": [round(edge, 3) for edge in one.take.judged.window_s],
        "string": name.string if name else None,
        "fret": name.fret if name else None,
        "harmonic": name.harmonic if name else None,
        "fundamental_hz": round(pitch.law.partial_one_hz, 4) if pitch else None,
        "uncertainty_cents": round(pitch.uncertainty_cents, 2) if pitch else None,
        "inharmonicity": float(f"{pitch.law.inharmonicity:.3g}") if pitch else None,
        "cents": round(cents, 2) if cents is not None else None,
        "rings_s": round(rings_s(pitch), 2) if pitch else None,
        "stroke": one.stroke.to_json() if one.stroke and pitch else None,
        "buzz": one.buzz.to_json() if one.buzz else None,
        "verdict": one.take.verdict.value,
        "reasons": [reason.code for reason in one.take.reasons],
        "advice": [str(reason) for reason in one.take.reasons],
    }


def _dead(heard: "Listened") -> tuple[DeadNote, ...]:
    """Notes that die early, of the takes that were not refused."""
    usable = [take for take in heard.takes if take.take.verdict is not Verdict.REFUSED]
    return dead_notes(ringing_of((one.take.pitch, one.name) for one in usable))


def _nearest(hz: float, reference_hz: float) -> tuple[str, float]:
    """Name of the nearest note in equal temperament and cents above it."""
    from math import log2

    steps = 12 * log2(hz / reference_hz)
    key = round(steps) + 69
    letters = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return f"{letters[key % 12]}{key // 12 - 1}", 100 * (steps - round(steps))


def print_heard(heard: "Listened", reference_hz: float, settled: str | None) -> None:
    """Print the takes as a table, then intonation, then what to do about takes that are not good."""

    def draw(console: "Console") -> None:
        if not heard.takes:
            paragraph(console, tr(NO_PLUCK))
            return
        _table(console, heard, reference_hz)
        if heard.intonation:
            heading(console, tr("Fretted twelfth against the true octave"))
            for each in heard.intonation:
                figure = each.intonation
                spread = max(figure.uncertainty_cents, 0.1)
                words = tr(
                    "string {string}: {cents:+.1f} cents, ± {spread:.1f}",
                    string=each.string,
                    cents=figure.cents,
                    spread=spread,
                )
                paragraph(console, words, 1)
                bullets(console, figure.disagreements)
        _of_playing(console, heard)
        reasons = [reason for take in heard.takes for reason in take.take.reasons]
        told = list(dict.fromkeys(map(str, reasons)))
        if any(reason.code == "which-note" for reason in reasons):
            told.append(tr(ORDER_HINT))
        if told:
            heading(console, tr("What to do better"))
            bullets(console, told)
        if settled:
            heading(console, tr("Settling"))
            paragraph(console, settled, 1)

    print_page(draw)


def _table(console: "Console", heard: "Listened", reference_hz: float) -> None:
    """Print a row for each take."""
    rows = [_row(take, reference_hz) for take in heard.takes]
    columns: list[tuple[str, Any, int | None]] = [
        (tr("at s"), "right", 7), (tr("what"), "left", 21), ("Hz", "right", 8), (tr("cents"), "right", 6),
        ("±", "right", 4), (tr("pluck mm"), "right", 8), (tr("verdict"), "left", None),
    ]  # fmt: skip
    if not any(row[PLUCK] for row in rows):  # a column of nothing only takes the verdicts' room
        columns, rows = [*columns[:PLUCK], columns[-1]], [(*row[:PLUCK], row[-1]) for row in rows]
    table = grid(columns)
    table.columns[-1].no_wrap = False  # where room is short words go to the next line: figures never are cut
    for row in rows:
        table.add_row(*row)
    console.print(table)


def _of_playing(console: "Console", heard: "Listened") -> None:
    """Print what takes tell besides pitch: loudness across strings, dead notes, buzz."""
    if heard.loudness:
        heading(console, tr("How loud each string is for the same stroke"))
        bullets(console, [one.words() for one in heard.loudness])
    if dead := _dead(heard):
        heading(console, tr("Dead notes"))
        bullets(console, [one.words() for one in dead])
    buzzes = [take.buzz.words() for take in heard.takes if take.buzz is not None]
    if buzzes:
        heading(console, tr("Buzz heard"))
        bullets(console, buzzes)


def _mixed(one: "NamedTake") -> bool:
    """Whether the pitch is of no string: what several sounds only seem to share."""
    return any(reason.refuses and reason.code in MIXED for reason in one.take.reasons)


def _row(one: "NamedTake", reference_hz: float) -> tuple[str, ...]:
    """One take as words."""
    at, pitch, name = f"{one.take.start_s:.2f}", one.take.pitch, one.name
    verdict = one.take.verdict.value
    codes = ", ".join(reason.code for reason in one.take.reasons)
    verdict = f"{verdict}: {codes}" if codes else verdict
    if pitch is None or _mixed(one):
        return at, "", "", "", "", "", verdict
    hz = pitch.law.partial_one_hz
    nearest, cents = _nearest(hz, reference_hz)
    what = nearest
    if name is not None:
        cents = name.cents
        place = tr("open") if name.fret == 0 else tr("fret {fret}", fret=name.fret)
        place = tr("harmonic {harmonic}", harmonic=name.harmonic) if name.harmonic else place
        what = tr("string {string}, {place}", string=name.string, place=place)
    digits = 3 if hz < 100 else 2
    return (
        at,
        what,
        f"{hz:.{digits}f}",
        f"{cents:+.1f}",
        f"{pitch.uncertainty_cents:.1f}",
        pluck_words(one),
        verdict,
    )


def pluck_words(one: "NamedTake") -> str:
    """How far the string was pulled, in mm and in whatever direction; `<` where only that is sure; empty: not told."""
    if one.stroke is None:
        return ""
    stroke = one.stroke.stroke
    return f"{stroke.height_mm:.1f}" if stroke.sure else f"<{stroke.high_mm:.1f}"


def strengths_lines(heard: "Listened", found: PlayedStrengths) -> Iterator[str]:
    """Yield a player's strengths in words: what was heard, and what it is taken for."""
    reach = exp(1.96 * found.spread_ratio)
    low, high = 1 / reach, reach
    yield tr(
        "How hard {who} plays, heard in {takes_count} plucks, {day}",
        who=found.who,
        takes_count=len(heard.takes),
        day=found.day,
    )
    for name in STRENGTHS:
        mm = getattr(found, f"{name}_mm")
        yield (
            tr(
                "  {name:<7} {mm:5.2f} mm ({mm_2:.3f} in) toward the board, likely {low:.2f} to {high:.2f} mm "
                "({low_in:.3f} to {high_in:.3f} in)",
                name=str(tr(name)),
                mm=mm,
                mm_2=mm / 25.4,
                low=low * mm,
                high=high * mm,
                low_in=low * mm / 25.4,
                high_in=high * mm / 25.4,
            )
        )
    point = found.pluck_from_saddle_mm
    yield tr(
        "  plucked about {point:.0f} mm ({point_2:.1f} in) from the saddle", point=point, point_2=point / 25.4
    )
    yield f"  {found.source}"
    yield tr(
        "Sound tells how far a string was pulled, hardly which way: notes that buzz and notes that do not narrow it"
    )
    yield tr("(breakangle buzz FILE --heard STRING:FRET --clean STRING:FRET).")


def strengths_json(heard: "Listened", found: PlayedStrengths) -> dict[str, Any]:
    """A player's strengths as plain data, with every pluck they rest on."""
    return {
        "format": "breakangle/strengths/1",
        "playing": found.model_dump(mode="json"),
        "plucks": [take.stroke.to_json() if take.stroke else None for take in heard.takes],
    }
