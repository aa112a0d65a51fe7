"""Recordings of a visit heard another way than pluck by pluck: a slide, a strum, taps, hum, old strings, rings."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal, get_args

from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.service import Service
from breakangle.model.service_file import service_text
from breakangle.model.words.speech import tr
from breakangle.services.listening.forms.ages import ages_heard
from breakangle.services.listening.forms.form import Answer
from breakangle.services.listening.forms.hum import hum_heard
from breakangle.services.listening.forms.ring_map import ring_map
from breakangle.services.listening.forms.slide import slide_heard
from breakangle.services.listening.forms.strum import strum_heard
from breakangle.services.listening.forms.taps import taps_heard
from breakangle.services.listening.recordings import Named, heard_at, put_down, said_by_name
from breakangle.services.service_files.service import service_from
from breakangle.services.visits.entries import service_of, take_reading
from breakangle.services.workers.queue import LISTENING
from breakangle.services.workshop.attachments import content_of
from breakangle.storage.records.records import Attachment, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

Form = Literal["slide", "strum", "taps", "hum", "ages", "rings"]
FORMS: tuple[Form, ...] = get_args(Form)


def form_heard(
    shop: Shop,
    visit: Visit,
    recordings: Sequence[Attachment],
    form: Form,
    string: int,
    against: Attachment | None,
) -> Answer:
    """Return what is heard in stored recordings, taken for a form; `string` is the one that a slide was on.

    Raises:
        ChooseAnotherFileError: no recording, one that cannot be read, or one that is too long.
        CorrectInputError: the instrument has no such string, or cannot be heard so.
        ShopDamagedError: one is missing or damaged.
    """
    if not recordings:
        raise ChooseAnotherFileError(tr("no recording was chosen"), "", tr("choose a recording"))
    service = service_of(shop, visit.id).model_copy(update={"readings": ()})
    every = [*recordings, *([] if against is None else [against])]
    with put_down(Named(one.name, content_of(shop, one)) for one in every) as paths:
        first, other = paths[: len(recordings)], paths[len(recordings) :]
        return LISTENING.run(_answered, first, other, service_text(service), form, string)


def _answered(paths: list[Path], against: list[Path], text: str, form: Form, string: int) -> Answer:
    """Return the answer; this is worked out in a process of its own."""
    service = service_from(text.encode(), tr("service file"))
    with said_by_name([*paths, *against]):
        return _answer(paths, against[0] if against else None, service, form, string)


def _answer(paths: list[Path], other: Path | None, service: Service, form: Form, string: int) -> Answer:
    if form == "slide":
        return slide_heard(paths[0], service, string)
    if form == "strum":
        return strum_heard(paths[0], service)
    if form == "taps":
        return taps_heard(paths[0], service)
    if form == "hum":
        return hum_heard(paths[0], other)
    heard = heard_at(paths, service)
    if form == "rings":
        return ring_map(heard)
    return ages_heard(heard.takes, heard_at([other], service).takes if other is not None else ())


def store_answer(shop: Shop, visit: Visit, answer: Answer, stamp: Stamp, key: str) -> int:
    """Store the readings of an answer, and return how many; sent again with the same `key`, nothing is stored twice.

    Raises:
        CorrectInputError: it makes none.
    """
    if not answer.readings:
        raise CorrectInputError(
            tr("nothing here is sure enough to be stored"), tr("good frets of a slide, good strings of a strum"),
            tr("record again"),
        )  # fmt: skip
    for at, reading in enumerate(answer.readings):
        plain = reading.model_dump(mode="json", exclude={"after"})
        take_reading(shop, visit.id, plain, stamp, key=f"{key}-{at}")
    return len(answer.readings)
