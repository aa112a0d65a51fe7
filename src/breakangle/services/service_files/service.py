"""One service from its file: read it, plan it, write it. The same functions for a terminal and for Python."""

import json
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError, ReadAgainError
from breakangle.model.json_text import shown
from breakangle.model.plan import Plan, Question
from breakangle.model.plan_form import Form
from breakangle.model.plan_schema import plan_schema
from breakangle.model.service import Service, Targets, unknown_keys
from breakangle.model.service_file import ServiceFileError, parse_service, service_schema
from breakangle.model.words.speech import tr
from breakangle.planning.estimate.estimate import Estimate, estimate
from breakangle.planning.estimate.learning import recall
from breakangle.planning.estimate.slips import slip_questions
from breakangle.planning.estimate.target_state import place_read
from breakangle.planning.estimate.units_doubted import (
    ASK,
    LEFT_OUT,
    sizes_asked,
    units_questions,
    without_doubted,
)
from breakangle.planning.explain.body import with_heard_pulls
from breakangle.planning.explain.remarks import BEYOND, TELLS_MOST
from breakangle.planning.kinds.registry import file_kinds
from breakangle.planning.kinds.taught import Taught, prior_taught
from breakangle.planning.more_trips import with_reason_for_more
from breakangle.planning.plan import plan
from breakangle.planning.state.board import board_of
from breakangle.planning.state.layout import Belief
from breakangle.reference.families import HANDS
from breakangle.reference.rows import look_up
from breakangle.services.service_files.checks import far_pitches, unheard_names

LARGEST_FILE_BYTES = 8_000_000


def read_service(path: str | os.PathLike[str]) -> Service:
    """Return the service in the file at `path`; what it does not know is kept, and listed by `unknown`.

    Raises:
        ChooseAnotherFileError: missing, a folder, unreadable, larger than 8 MB, not UTF-8, not JSON, or of
            another format or version.
        ServiceFileError: values that cannot be right, each with JSON path, value and what is allowed.
    """
    return service_from(_file_bytes(Path(path)), str(path))


def service_from(content: bytes, source: str) -> Service:
    """Return the service in `content`, the bytes of a service file that came from `source`.

    Raises:
        ChooseAnotherFileError: larger than 8 MB, not UTF-8, not JSON, or of another format or version.
        ServiceFileError: values that cannot be right, each with JSON path, value and what is allowed.
    """
    if len(content) > LARGEST_FILE_BYTES:
        raise _too_large(source, tr("more than {size:.0f} MB", size=LARGEST_FILE_BYTES / 1e6))
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        possible = tr("a service file is JSON in UTF-8")
        raise ChooseAnotherFileError(
            tr("{source} is not text in UTF-8", source=source), possible, tr("name another file")
        ) from cause
    service = parse_service(text, file_kinds(), source)
    problems = list(unheard_names(service)) or list(far_pitches(service))
    if problems:
        raise ServiceFileError(problems, source)
    return service


def unknown(service: Service) -> tuple[str, ...]:
    """Return the JSON path of every key in the service that this program does not know; they are kept."""
    return tuple(unknown_keys(service))


def estimate_service(service: Service, earlier: Sequence[Service] = ()) -> Estimate:
    """Return the most probable state of the service's instrument now, with what is still uncertain.

    Figures whose unit is doubted are left out.

    Args:
        service: instrument, readings and the work done so far.
        earlier: the same instrument's earlier visits, oldest first: what its neck does is learned from them.

    Raises:
        CorrectInputError: an earlier visit of an instrument with other strings or frets.
        ReadAgainError: readings that no instrument fits.
    """
    _, kept, prior = _asked(service, earlier)
    with some_instrument_fits():
        return estimate(kept, prior=prior)


def unit_questions(service: Service, earlier: Sequence[Service] = ()) -> tuple[tuple[Question, ...], Service]:
    """Return what is asked about figures as they were typed, and the service without those that are doubted.

    Raises:
        CorrectInputError: an earlier visit of an instrument with other strings or frets.
        ReadAgainError: earlier readings that no instrument fits.
    """
    return _asked(service, earlier)[:2]


def _asked(
    service: Service, earlier: Sequence[Service], expected: Taught | None = None
) -> tuple[tuple[Question, ...], Service, Belief]:
    """Return what is asked, the service without what is doubted, and what is believed of that before it is read."""
    prior = _believed_before(service, earlier, expected)
    questions = typed_questions(service, prior)
    kept = without_doubted(service, questions)
    same = kept.instrument is service.instrument
    return questions, kept, prior if same else _believed_before(kept, earlier, expected)


def typed_questions(service: Service, prior: Belief) -> tuple[Question, ...]:
    """Return what is asked about figures and words as they were typed: slips of keys first, then units, then pulls."""
    units = units_questions(service, prior)
    slips = slip_questions(service, sizes_asked(units))
    first = tuple(one for one in slips if one.ask in LEFT_OUT)
    return (*first, *units, *(one for one in slips if one.ask not in LEFT_OUT))


def _believed_before(service: Service, earlier: Sequence[Service], expected: Taught | None = None) -> Belief:
    """Return what is believed of the instrument before anything of `service` is read."""
    here = service.instrument
    if not earlier:
        return prior_taught(board_of(here, service.reference_hz), expected)
    for visit in earlier:
        there = visit.instrument
        if (len(there.strings), there.frets) != (len(here.strings), here.frets):
            shape = tr(
                "{strings_count} strings and {frets} frets",
                strings_count=len(there.strings),
                frets=there.frets,
            )
            given = tr("the earlier visit of {shown} has {shape}", shown=shown(there.name), shape=shape)
            possible = tr(
                "this instrument has {strings_count} and {frets}",
                strings_count=len(here.strings),
                frets=here.frets,
            )
            raise CorrectInputError(given, possible, tr("leave that file out"))
    with some_instrument_fits():
        return recall([unit_questions(one)[1] for one in earlier], service, expected=expected)


@contextmanager
def some_instrument_fits() -> Iterator[None]:
    """Turn a solution that runs away (a stretched string with no tension left, say) into its cause.

    Raises:
        ReadAgainError: the numbers ran away.
    """
    try:
        with np.errstate(divide="raise", invalid="raise", over="raise"):
            yield
    except (FloatingPointError, np.linalg.LinAlgError) as cause:
        given = tr("the readings contradict each other so far that no instrument fits them")
        raise ReadAgainError(
            given, "", tr("take those again that are farthest from what you expected")
        ) from cause


def plan_service(
    service: Service,
    hand: str | None = None,
    earlier: Sequence[Service] = (),
    no_buzz_at: str | None = None,
    expected: Taught | None = None,
) -> Plan:
    """Return the plan: the fewest adjustments in order, what each should do and why.

    Figures whose unit is doubted order nothing: they are asked about first.

    Args:
        service: instrument, readings and the work done so far.
        hand: `light`, `medium` or `heavy`, for the house's targets for another hand than the file's.
        earlier: the same instrument's earlier visits, oldest first.
        no_buzz_at: `light`, `medium` or `heavy`: no string may touch a crown when it is played so.
        expected: what others of its make taught of it (`services/history/population.py`).

    Raises:
        CorrectInputError: what the tables or the planner cannot work with.
        ReadAgainError: readings that no instrument fits.
    """
    service = _asked_for(service, "no_buzz_at", no_buzz_at)
    service = for_hand(service, hand)
    questions, kept, prior = _asked(with_heard_pulls(service, earlier), earlier, expected)
    with some_instrument_fits():
        made = with_reason_for_more(kept, plan(kept, estimate(kept, prior=prior)), prior)
        return asking(made, questions, kept)


def asking(made: Plan, questions: Sequence[Question], kept: Service) -> Plan:
    """Return a plan, made without the figures that `questions` doubt, that asks those first.

    Nothing is ordered where no reading is left, and nothing is said to be as it should be before they are answered.
    While a unit is open nothing is found on the rest alone either, nor called beyond a set-up: what was doubted may
    well be what answers it. A figure that was typed, and whose unit is asked, is not asked for a second time.
    """
    if not questions:
        return made
    typed = {
        place_read(reading) for asked in questions if asked.ask in LEFT_OUT for reading in asked.readings
    }
    others = [
        question
        for question in made.questions
        if not any(place_read(read) in typed for read in question.readings)
    ]
    update: dict[str, Any] = {"questions": (*questions, *others)}
    update["read_again"] = tuple(one for one in made.read_again if place_read(one) not in typed)
    told = made
    if made.read_next is not None and place_read(made.read_next) in typed:
        told = told.without_notes(TELLS_MOST)
        update |= {"read_next": None}
    doubted = any(question.ask in LEFT_OUT for question in questions)
    if any(question.ask == ASK for question in questions):
        told = told.without_notes(BEYOND)
        verdict = "adjust" if made.steps else "read-first"
        update |= {"findings": (), "unreached": (), "verdict": verdict}
    if doubted and not kept.readings:
        update |= {"steps": (), "trips": (), "verdict": "read-first", "then": made.now}
    elif doubted and (made.verdict == "leave" or not made.steps):
        update["verdict"] = "read-first"
    return told.model_copy(update=update)


def schema_text() -> str:
    """Return the JSON Schema (2020-12) of the service file as text."""
    return json.dumps(service_schema(file_kinds()), indent=2, ensure_ascii=False) + "\n"


def plan_schema_text(form: Form = "plan/2") -> str:
    """Return the JSON Schema (2020-12) of a plan in the form asked for, as text."""
    return json.dumps(plan_schema(file_kinds(), form), indent=2, ensure_ascii=False) + "\n"


def for_hand(service: Service, hand: str | None) -> Service:
    """Return the service with the house's targets for `hand`; single wishes stay. None: as it is.

    Raises:
        CorrectInputError: not light, medium or heavy.
    """
    return _asked_for(service, "hand", hand)


def _asked_for(service: Service, key: str, strength: str | None) -> Service:
    """Return the service with `key` of its targets set to a strength of hand; None: as it is."""
    if strength is None:
        return service
    look_up("hand", strength, dict.fromkeys(HANDS))
    asked = service.targets or Targets()
    return service.model_copy(update={"targets": asked.model_copy(update={key: strength})})


def _file_bytes(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise _too_large(str(path), f"{size / 1e6:.0f} MB")
        with path.open("rb") as file:
            return file.read(LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as cause:
        reason = (getattr(cause, "strerror", None) or str(cause)).lower()
        raise ChooseAnotherFileError(
            tr("{path} cannot be read: {reason}", path=path, reason=reason), "", tr("name another file")
        ) from cause


def _too_large(source: str, size: str) -> ChooseAnotherFileError:
    possible = tr(
        "a service file has at most {largest_file_bytes:.0f} MB",
        largest_file_bytes=LARGEST_FILE_BYTES / 1000000.0,
    )
    return ChooseAnotherFileError(
        tr("{source} is too large: {size}", source=source, size=size), possible, tr("name another file")
    )
