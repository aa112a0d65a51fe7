"""The levelling sheet: what comes off which crown, what to mind, and boxes to check it by, as a file."""

from breakangle.documents.renderers.page import Letterhead
from breakangle.documents.renderers.page_file import page_file
from breakangle.documents.sheets.levelling_sheet import LevellingSheet, levelling_page
from breakangle.documents.true_size.tiling import Paper
from breakangle.reference.messages import words
from breakangle.reference.routine import cautions_against
from breakangle.services.frets.levelling import FretWork
from breakangle.services.frets.words import CAUTIONS, after_of, checks_of, first_of, verdict_of


def levelling_file(
    work: FretWork,
    form: str,
    *,
    paper: Paper | None = None,
    letterhead: Letterhead | None = None,
    inch: bool = False,
) -> bytes:
    """Return the levelling sheet as a file: `pdf`, `html` or `txt`.

    Raises:
        CorrectInputError: no such form.
        InstallError: the typesetter is not installed.
    """
    return page_file(levelling_page(_sheet(work, letterhead)), form, paper=paper, inch=inch)


def _sheet(work: FretWork, letterhead: Letterhead | None) -> LevellingSheet:
    instrument, plan = work.service.instrument_now(), work.plan
    return LevellingSheet(
        title=instrument.name,
        letterhead=letterhead or Letterhead(""),
        strings=tuple(one.string for one in reversed(instrument.in_order())),
        frets=plan.frets if work.orders else (),
        off_mm=tuple(tuple(float(mm) for mm in row) for row in plan.off_mm),
        sides_mm=tuple((float(one[0]), float(one[1])) for one in plan.sides_mm),
        unread=work.unread,
        verdict=words(verdict_of(work)),
        first=tuple(words(one) for one in first_of(work)),
        after=tuple(words(one) for one in (*after_of(work), *checks_of(work))),
        cautions=tuple(row.words for row in cautions_against(CAUTIONS)) if work.orders else (),
        least_mm=work.least_mm,
    )
