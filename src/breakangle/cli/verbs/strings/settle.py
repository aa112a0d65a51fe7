"""`breakangle settle`: have the strings settled, and how many more stretches it likely takes."""

import argparse
from collections.abc import Sequence
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.typed_options import number
from breakangle.model.words.speech import tr

MOST_DRIFT_CENTS = 10_000.0


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "settle",
        help=tr("have the strings settled, and how many more stretches"),
        description=tr(
            "Tell from the drift over each stretch whether strings have settled, and how long it "
            "will likely take. A recording holds one pluck before the first stretch and one "
            "after each."
        ),
        epilog=tr("exit codes: 0 all settled, 1 not yet, 2 what was given cannot be right"),
    )
    verb.add_argument(
        "strings",
        metavar="STRING=CENTS,...",
        nargs="+",
        help=tr("drift over each stretch, such as 6=-30,-14,-6; or a recording, such as 6=low.wav"),
    )
    verb.add_argument(
        "--tolerance-cents", type=number, default=2.0, metavar="CENTS", help=tr("counts as none (2)")
    )
    verb.add_argument("--json", action="store_true", help=tr("as JSON"))


def run(arguments: argparse.Namespace) -> int:
    """Print how each string stands; 1 where one has not settled.

    Raises:
        BreakangleError: a value or recording that cannot be right.
    """
    from breakangle.cli.render.pairs import by_string
    from breakangle.services.listening.stretch_cycle import STRETCH_PLACES, settle

    tolerance = arguments.tolerance_cents
    drifts = by_string(arguments.strings, lambda text: _drifts(text, tolerance), "6=-30,-14")
    found = settle(drifts, tolerance)
    if arguments.json:
        from breakangle.cli.render.as_json import json_text

        say(json_text(found))
        return 0 if found.settled else 1
    for string in found.strings:
        say(tr("string {string}: {words}", string=string.string, words=string.words))
    say(found.words)
    if found.next_string is not None:
        say(
            tr(
                "Next: string {next_string}, stretched at its {stretch_places}.",
                next_string=found.next_string,
                stretch_places=", ".join(STRETCH_PLACES),
            )
        )
    return 0 if found.settled else 1


def _drifts(text: str, tolerance_cents: float) -> Sequence[float]:
    from breakangle.model.errors import CorrectInputError
    from breakangle.model.typed_number import number_within

    parts = [one for one in text.split(",") if one.strip()]
    drifts = [number_within(part, -MOST_DRIFT_CENTS, MOST_DRIFT_CENTS, ("c", "cents")) for part in parts]
    if None not in drifts:
        return [drift for drift in drifts if drift is not None]
    if len(parts) != 1:
        raise CorrectInputError(f'"{text}"', tr("drifts in cents, such as -30,-14,-6"))
    from pathlib import Path

    from breakangle.services.listening.settling_takes import settling_of
    from breakangle.services.listening.takes import listen_to

    heard = listen_to([Path(text)])
    return settling_of(heard.takes, tolerance_cents).drift_cents
