"""The buzz map in lines for a terminal: a row for each string, a sign for each stop, and what is at fault."""

import textwrap
from collections.abc import Mapping

from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr, tr_n
from breakangle.planning.buzz.buzz_map import NOT_MODELLED, NoteBuzz
from breakangle.planning.buzz.played_height import PlayedHeight
from breakangle.planning.verdict.said import counts_rest_on
from breakangle.reference.messages import words
from breakangle.services.service_files.buzz import BuzzReport, judged_words
from breakangle.services.service_files.heard_beside import heard_from_ratio

SIGNS = {"clear": "·", "trace": "t", "audible": "B", "choking": "X"}
DOUBT, DOUBT_FROM = "?", 0.05
MOST_FAULTS = 8


def wrapped(line: str, width: int = 80) -> str:
    """A sentence folded to the page; rows of a table (they begin with a blank, or head one) stay whole."""
    if line.startswith((" ", "string ")):
        return line
    return textwrap.fill(line, width, break_long_words=False, break_on_hyphens=False)


def lines(report: BuzzReport) -> list[str]:
    """The whole answer: what the plan says of the same readings and what was found, then strength by strength."""
    out = [*judged_words(report.judgement), ""]
    for strength in report.map.strengths:
        out += [*_of_strength(report, strength), ""]
    out += [*_heard_lines(report), *([""] if report.heard_here else [])]
    return [*out, tr("Not modelled: {not_modelled}.", not_modelled="; ".join(map(tr, NOT_MODELLED)))]


def _heard_lines(report: BuzzReport) -> list[str]:
    """What was heard on the instrument beside what the map says, and the limit that it tells of."""
    out = [one.words() for one in report.heard_here]
    ratio, limit = heard_from_ratio(report.heard_here), report.map.playing.classes.heard_from_depth_ratio
    if ratio is not None:
        out.append(
            tr(
                "Here a touch is heard from {ratio:.3f} of the pluck's height below a crown, not "
                "from {limit:.3f}: put heard_from_depth_ratio = {ratio:.3f} under [classes] in your "
                "own table of strengths.",
                ratio=ratio,
                limit=limit,
            )
        )
    return out


def _of_strength(report: BuzzReport, strength: str) -> list[str]:
    height = report.map.playing.strengths.height_mm(strength)
    touching, heard = report.map.touching(strength), report.map.heard(strength)
    every = report.map.at(strength)
    name = report.service.instrument.name
    plucked = mark("{instrument}: {strength} play, plucked {height:.2f} mm from rest")
    out = [tr(plucked, instrument=name, strength=tr(strength), height=height), *grid(report, strength)]
    signs = mark("{clear} clear   {doubt} may touch   t touches, not heard   B heard   X choked")
    out.append(tr(signs, clear=SIGNS["clear"], doubt=DOUBT))
    if heard:
        counts = mark("{heard} of {every} notes are heard; {touching} touch a crown. At fault:")
        out.append(tr(counts, heard=len(heard), every=len(every), touching=len(touching)))
        out += _faults(report, strength)
        out.append(tr("Worst: {note}.", note=note_words(max(heard, key=_badness))))
        if rests_on := counts_rest_on(report.map.playing.own):
            out.append(words(rests_on))
        if not report.map.playing.classes.calibrated:
            out.append(
                tr("How bad a touch sounds (t, B, X) is not calibrated: listen, and set your own limits.")
            )
    elif touching:
        none = mark("None of {every} notes is heard; {touching} graze a crown, most of all {note}.")
        worst = note_words(max(touching, key=_badness))
        out.append(tr(none, every=len(every), touching=len(touching), note=worst))
    else:
        every_one = mark("All {every} notes are clear; the nearest by {least:.2f} mm or more.")
        out.append(tr(every_one, every=len(every), least=min(one.margin_mm for one in every)))
    if likely := report.likely(strength, DOUBT_FROM):
        those = tr("{count} more", count=likely) if touching else tr("{count} of them", count=likely)
        more = mark("{those} may touch all the same (chance 1 in 20 or more): more readings would tell.")
        out.append(tr(more, those=those))
    return out


def _faults(report: BuzzReport, strength: str) -> list[str]:
    return [
        tr_n(
            "  {name}: {count} note, up to {most:.2f} mm",
            "  {name}: {count} notes, up to {most:.2f} mm",
            count,
            name=name,
            count=count,
            most=max(most, 0.01),
        )
        for name, count, most in report.faults(strength)[:MOST_FAULTS]
    ]


def grid(report: BuzzReport, strength: str) -> list[str]:
    """Lines of the map: a row for each string, a column for each stop, 0 being the open string."""
    found = report.map
    notes = {(one.string, one.stop): one for one in found.at(strength)}
    out = [tr("string  ") + "".join(f"{fret:>3}" for fret in range(found.fret_count + 1))]
    for string in report.service.instrument_now().in_order():
        cells = [sign(notes.get((string.string, fret))) for fret in range(found.fret_count + 1)]
        out.append(f"{string.string:>2} {string.note:<5}" + "".join(f"{cell:>3}" for cell in cells))
    return out


def sign(note: NoteBuzz | None) -> str:
    """One sign for one note; a blank where there is no crown to touch."""
    if note is None:
        return " "
    doubtful = note.verdict == "clear" and note.probability >= DOUBT_FROM
    return DOUBT if doubtful else SIGNS[note.verdict]


def note_words(note: NoteBuzz) -> str:
    """One touching note in words."""
    place = tr("open") if note.stop == 0 else tr("at fret {stop}", stop=note.stop)
    cause = f"; {note.cause.sentence()}" if note.cause else tr("; no single change clears it")
    if note.decided == "rest":
        return tr(
            "string {string} {place} lies on crown {crown} at rest{cause}",
            string=note.string,
            place=place,
            crown=note.crown,
            cause=cause,
        )
    return tr(
        "string {string} {place} meets crown {crown} after {first_ms:.1f} ms{cause}",
        string=note.string,
        place=place,
        crown=note.crown,
        first_ms=note.first_ms,
        cause=cause,
    )


def _badness(note: NoteBuzz) -> tuple[bool, float]:
    heard = note.impulse_ratio == note.impulse_ratio
    return note.decided == "rest", note.impulse_ratio if heard else 0.0


def height_lines(
    service: Service, found: PlayedHeight, strength: str, heights: Mapping[str, float | str]
) -> list[str]:
    """What the notes tell of the pluck, and the table of strengths to keep."""
    high = tr("no upper bound") if found.high_mm == float("inf") else f"{found.high_mm:.2f} mm"
    out = [
        tr(
            "# {strength} play: these notes fit a pluck of {low_mm:.2f} mm to {high} from rest.",
            strength=strength,
            low_mm=found.low_mm,
            high=high,
        )
    ]
    for string, fret in found.against:
        out.append(
            tr(
                "# String {string} at fret {fret} does not fit: play it again, or read that crown.",
                string=string,
                fret=fret,
            )
        )
    out += [tr("# Keep this as a file for --strengths-file."), f"[strengths.{service.instrument.kind}]"]
    return out + [
        f"{name} = {value:.3f}" if isinstance(value, float) else f'{name} = "{value}"'
        for name, value in heights.items()
    ]
