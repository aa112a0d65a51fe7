"""`breakangle listen FILE --as FORM`: a slide, a strum, taps, hum, old strings, how long notes ring."""

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from breakangle.cli.render.typed_options import number
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.model.service import Service
    from breakangle.services.listening.forms.form import Answer

FORMS = ("slide", "strum", "taps", "hum", "ages", "rings")
NAMED = ("slide", "strum", "ages", "rings")  # these tell notes, so they need the instrument


def add_forms(verb: argparse.ArgumentParser) -> None:
    """Add the options of other forms of listening."""
    verb.add_argument(
        "--as",
        dest="form",
        choices=FORMS,
        help=tr(
            "what the recording is, if not single plucks: slide (all frets of --string in one go), strum (all open "
            "strings at once), taps (on the bridge, strings damped), hum (a pause), ages (open strings: how old they "
            "sound), rings (how long each note rings along the neck)"
        ),
    )
    verb.add_argument(
        "--against",
        type=Path,
        metavar="FILE",
        help=tr(
            "with --as ages: the set when it was new; taps: the same with a weight on the bridge; hum: the same with a "
            "hand on the strings"
        ),
    )
    verb.add_argument("--added-g", type=number, metavar="G", help=tr("with --as taps --against: that weight"))


def check_forms(arguments: argparse.Namespace) -> None:
    """Refuse options that do not fit the form.

    Raises:
        CorrectInputError: which, and what fits.
    """
    form, named = arguments.form, arguments.instrument or arguments.add_to
    if form is None:
        if arguments.against is not None or arguments.added_g is not None:
            raise CorrectInputError(
                "--against" if arguments.against else "--added-g",
                tr("belongs to a form of listening"),
                tr("add --as ages, --as taps or --as hum"),
            )
        return
    if form in NAMED and not named:
        raise CorrectInputError(f"--as {form}", tr("needs to know the instrument"), tr("add --instrument"))
    if form == "slide" and arguments.string is None:
        raise CorrectInputError("--as slide", tr("needs to know the string"), tr("add --string"))
    if len(arguments.files) > 1 and form not in ("ages", "rings"):
        count = len(arguments.files)
        raise CorrectInputError(
            tr("{count} recordings with --as {form}", count=count, form=form), tr("one"), tr("name one")
        )
    if arguments.plot is not None and arguments.plot.suffix.lower() != ".svg":
        raise CorrectInputError(
            f"--plot {arguments.plot}", tr("with --as a picture ends in .svg"), tr("name it so")
        )


def run_form(arguments: argparse.Namespace, service: "Service | None") -> int:
    """Print what was heard in this form, draw it, and store it, as asked for."""
    answer = _answer(arguments, service)
    if arguments.json:
        told = json.dumps(answer.data, indent=2, ensure_ascii=False, allow_nan=False)
    else:
        told = "\n".join((*answer.words, *_goes_on(answer), *(f"! {one}" for one in answer.cautions)))
    sys.stdout.write(told + "\n")
    if arguments.plot is not None:
        _draw(answer, arguments.plot)
    if arguments.add_to is not None and answer.usable:
        _store(arguments, answer)
    return 0 if answer.usable else 1


def _goes_on(answer: "Answer") -> tuple[str, ...]:
    """Return the command whose sheet goes on from what was heard; nothing where there is none."""
    if not answer.job:
        return ()
    chosen = " ".join(f"--set {name}={value}" for name, value in answer.job_options.items())
    return (tr("What to look at: breakangle make {job} FILE {chosen}", job=answer.job, chosen=chosen),)


def _answer(arguments: argparse.Namespace, service: "Service | None") -> "Answer":
    from breakangle.services.listening.forms.ages import ages_heard
    from breakangle.services.listening.forms.hum import hum_heard
    from breakangle.services.listening.forms.ring_map import ring_map
    from breakangle.services.listening.forms.slide import slide_heard
    from breakangle.services.listening.forms.strum import strum_heard
    from breakangle.services.listening.forms.taps import taps_heard
    from breakangle.services.listening.takes import listen_to

    first, against = arguments.files[0], arguments.against
    if arguments.form == "hum":
        return hum_heard(first, against)
    if arguments.form == "taps":
        return taps_heard(first, service, against, arguments.added_g)
    assert service is not None
    if arguments.form == "slide":
        return slide_heard(first, service, arguments.string)
    if arguments.form == "strum":
        return strum_heard(first, service)
    heard = listen_to(arguments.files, service, arguments.string)
    if arguments.form == "rings":
        return ring_map(heard)
    then = () if against is None else listen_to([against], service, arguments.string).takes
    return ages_heard(heard.takes, then)


def _draw(answer: "Answer", path: Path) -> None:
    """Write the drawing of an answer.

    Raises:
        ChooseAnotherFileError: there is nothing to draw, or the place cannot be written.
    """
    from breakangle.drawings.charts.dots import dots_chart
    from breakangle.drawings.look import PAPER

    if answer.axes is None or not answer.series:
        raise ChooseAnotherFileError(tr("nothing was heard that can be drawn"), "", tr("record again"))
    try:
        path.write_text(dots_chart(answer.series, answer.axes, PAPER).svg, encoding="utf-8")
    except OSError as cause:
        raise ChooseAnotherFileError(
            tr("{path} cannot be written", path=path), "", tr("name another place")
        ) from cause


def _store(arguments: argparse.Namespace, answer: "Answer") -> None:
    """Add an answer's readings, or a body's notes, to the service file.

    Raises:
        CorrectInputError: this form makes nothing that is stored, or nothing was sure enough.
    """
    from breakangle.cli.render.entry import service_in
    from breakangle.services.listening.forms.taps import body_of, with_body
    from breakangle.services.service_files.service_written import write_service

    target = service_in(arguments.add_to, quiet=True)
    if arguments.form == "taps":
        write_service(arguments.add_to, with_body(target, body_of(answer)))
        count = len(answer.data["resonances"])
    elif answer.readings:
        readings = (*target.readings, *answer.readings)
        write_service(arguments.add_to, target.model_copy(update={"readings": readings}))
        count = len(answer.readings)
    else:
        raise CorrectInputError(
            tr("nothing of this is stored in a service file"), tr("good frets and strings, and a body's notes are"),
            tr("leave out --add-to"),
        )  # fmt: skip
    sys.stderr.write(tr("{count} added to {add_to}\n", count=count, add_to=arguments.add_to))
