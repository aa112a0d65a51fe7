"""What a verb asks about a file's figures before it answers: doubted units, said first, and the rest worked on."""

import sys
from typing import TYPE_CHECKING

from breakangle.cli.render.entry import say, service_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from breakangle.cli.render.units import Units
    from breakangle.model.plan import Question
    from breakangle.model.service import Service


def service_asked(file: str, units: "Units", as_json: bool = False) -> "Service":
    """Return the service in `file` without the figures whose unit is doubted; what is asked about them is said first.

    Beside JSON on standard output it is said on standard error.

    Raises:
        ChooseAnotherFileError: it cannot be read, or is no service file.
        ServiceFileError: values that cannot be right.
    """
    from breakangle.services.service_files.service import unit_questions

    questions, kept = unit_questions(service_in(file))
    say_asked(questions, units, as_json)
    return kept


def say_asked(
    questions: "Sequence[Question]", units: "Units", as_json: bool = False, sheet: int | None = None
) -> None:
    """Say what is asked about doubted figures, and how to answer it: in a file, or on a sheet of the shop."""
    from textwrap import fill

    from breakangle.model.words.message import Message
    from breakangle.planning.trips.told import as_told_message, may_be_as_told
    from breakangle.reference.messages import words

    for question in questions:
        lines = [units.sentence(words(question.message))]
        if question.ask == "inches":
            in_file = Message(key="typed.answer_in_file")
            on_sheet = Message(key="typed.answer_on_sheet", values={"sheet": sheet or 0})
            lines.append(words(in_file if sheet is None else on_sheet))
        if string := may_be_as_told(question):
            lines.append(words(as_told_message(string, sheet)))
        text = "\n".join(fill(line, 100) for line in lines)
        if as_json:
            sys.stderr.write(f"{text}\n")
        else:
            say(text)
