"""The making jobs there are, found by listing their folder, and their sheets as files."""

import importlib
import pkgutil
from collections.abc import Iterable
from functools import lru_cache

from breakangle.documents.renderers.page import Facts, Heading, Letterhead, Page, Paragraph, Points, Table
from breakangle.documents.renderers.page_file import page_file
from breakangle.documents.true_size.tiling import Paper
from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import Instrument
from breakangle.model.plan import Finding
from breakangle.model.words.speech import tr
from breakangle.reference.families import family_of
from breakangle.reference.routine import cautions_against
from breakangle.services.making import jobs
from breakangle.services.making.kinds import Job, MakingSheet

LIKELY = 0.5  # derived: likelier than not


@lru_cache(maxsize=1)
def making_jobs() -> dict[str, Job]:
    """Return every job by name."""
    names = sorted(found.name for found in pkgutil.iter_modules(jobs.__path__))
    made = [importlib.import_module(f"{jobs.__name__}.{name}").JOB for name in names]
    return {one.name: one for one in made}


def making_job(name: str) -> Job:
    """Return a job by its name.

    Raises:
        CorrectInputError: there is none; the error names those there are.
    """
    if name not in making_jobs():
        raise CorrectInputError(
            tr('"{name}" is nothing to make', name=name[:60]),
            tr("one of {making_jobs}", making_jobs=", ".join(making_jobs())),
            tr("choose one"),
        )
    return making_jobs()[name]


def jobs_for(findings: Iterable[Finding], instrument: Instrument) -> tuple[Job, ...]:
    """Return the making jobs that what a plan found on an instrument leads to: patterns likelier there than not.

    Only jobs about what its kind has: a bridge that stands loose is slid back, and no fixed one is placed for it.
    """
    found, family = {one.finding for one in findings if one.probability >= LIKELY}, family_of(instrument)
    return tuple(one for one in making_jobs().values() if found & set(one.findings) and one.usual_on(family))


def making_page(sheet: MakingSheet, instrument: str, letterhead: Letterhead | None = None) -> Page:
    """Return a making sheet as plain data, for any renderer."""
    cautions = tuple(row.words for row in cautions_against(sheet.dangers))
    blocks: list[Heading | Paragraph | Points | Table | Facts] = [Paragraph(sheet.lead, "lead")]
    if cautions:
        blocks += [Heading(tr("Mind")), Points(cautions)]
    blocks.append(Facts(sheet.facts))
    if sheet.rows:
        blocks.append(Table(tr("Piece by piece"), sheet.head, sheet.rows, sheet.named))
    blocks += [Heading(tr("It rests on")), Points(sheet.rests_on)]
    return Page(sheet.title, instrument, letterhead or Letterhead(""), (), tuple(blocks))


def making_file(
    sheet: MakingSheet,
    instrument: str,
    form: str,
    *,
    paper: Paper | None = None,
    letterhead: Letterhead | None = None,
    inch: bool = False,
) -> bytes:
    """Return a making sheet as a file: `pdf`, `html` or `txt`.

    Raises:
        CorrectInputError: no such form.
        InstallError: the typesetter is not installed.
    """
    return page_file(making_page(sheet, instrument, letterhead), form, paper=paper, inch=inch)
