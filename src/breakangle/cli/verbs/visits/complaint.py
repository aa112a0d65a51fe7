"""`complaint`: what an owner complains of, the readings that decide it, and what they are told."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_number, add_shop, opened, stamp_of, visit_of
from breakangle.cli.render.typed_options import whole
from breakangle.cli.render.units import Units, add_units, units_asked
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from breakangle.storage.records.records import Visit
    from breakangle.storage.records.store import Shop

WHAT = ("buzz", "rattle", "dead-note", "out-of-tune", "too-high", "too-low", "hard-to-play", "crackle", "structure",
        "other")  # fmt: skip
WHEN = ("open", "fretted", "soft", "hard", "always", "sometimes")
OUTCOME = ("gone", "better", "unchanged", "not-found")
CHECKED = ("by-ear", "by-figures", "both", "not-checked")

COLUMNS = 80


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "complaint",
        help=tr("what the owner complains of: take it down, see what decides it, answer it"),
        description=tr(
            "List the complaints of a visit with the readings that decide them. With a WHAT, "
            "take one down, such as: breakangle complaint 12 buzz --strings 6 --frets 3 --when "
            "hard. With --answer, answer one."
        ),
    )
    add_number(verb)
    verb.add_argument(
        "what", metavar="WHAT", nargs="?", choices=WHAT, help=tr("one of {what}", what=", ".join(WHAT))
    )
    verb.add_argument("--strings", default="", metavar="LIST", help=tr("such as 6, or 5,6, or all"))
    verb.add_argument("--frets", default="", metavar="LIST", help=tr("such as 3, or 1-5, or open"))
    verb.add_argument("--when", choices=WHEN, nargs="+", default=[], help=tr("when it is heard or felt"))
    verb.add_argument("--played", default="", metavar="WORDS", help=tr("how it is played"))
    verb.add_argument("--words", default="", help=tr("the owner's own words"))
    verb.add_argument(
        "--answer", metavar="K", type=whole, help=tr("answer the complaint of that number in the list")
    )
    verb.add_argument("--outcome", choices=OUTCOME, help=tr("with --answer: how it ended"))
    for name, told in (
        ("found", tr("what was found")),
        ("cause", tr("what caused it")),
        ("done", tr("what was done")),
    ):
        verb.add_argument(
            f"--{name}", default="", metavar="WORDS", help=tr("with --answer: {told}", told=told)
        )
    verb.add_argument(
        "--checked", choices=CHECKED, default="not-checked", help=tr("with --answer: how it was checked")
    )
    verb.add_argument("--drop", metavar="K", type=whole, help=tr("take the complaint of that number off"))
    verb.add_argument("--json", action="store_true", help=tr("the list as JSON"))
    add_units(verb)
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do what the verb says, and print the list.

    Raises:
        BreakangleError: what was given cannot be right, or the shop cannot be reached.
    """
    with opened(arguments) as shop:
        visit = visit_of(shop, arguments)
        if arguments.what:
            visit = _added(shop, visit, arguments)
        elif arguments.answer is not None:
            visit = _answered(shop, visit, arguments)
        elif arguments.drop is not None:
            visit = _dropped(shop, visit, arguments)
        _listed(shop, visit, arguments.json, units_asked(arguments))
    return 0


def _added(shop: "Shop", visit: "Visit", arguments: argparse.Namespace) -> "Visit":
    from breakangle.services.visits.complaints import add_complaint
    from breakangle.services.visits.entries import service_of
    from breakangle.services.visits.typed_complaints import ComplaintTyped, complaint_typed

    plain = {name: getattr(arguments, name) for name in ("what", "strings", "frets", "played", "words")}
    typed = ComplaintTyped(**plain, when=tuple(arguments.when))
    complaint = complaint_typed(typed, service_of(shop, visit.id).instrument)
    return visit if complaint is None else add_complaint(shop, visit, complaint, stamp_of(arguments))


def _answered(shop: "Shop", visit: "Visit", arguments: argparse.Namespace) -> "Visit":
    from breakangle.services.visits.complaints import answer_complaint, complaint_numbered
    from breakangle.services.visits.typed_complaints import AnswerTyped, answer_typed

    typed = AnswerTyped(
        **{name: getattr(arguments, name) or "" for name in ("outcome", "found", "cause", "done", "checked")}
    )
    seen = complaint_numbered(visit, arguments.answer)
    return answer_complaint(shop, visit, seen, answer_typed(typed), stamp_of(arguments))


def _dropped(shop: "Shop", visit: "Visit", arguments: argparse.Namespace) -> "Visit":
    from breakangle.services.visits.complaints import change_complaint, complaint_numbered

    seen = complaint_numbered(visit, arguments.drop)
    return change_complaint(shop, visit, seen, None, stamp_of(arguments))


def _listed(shop: "Shop", visit: "Visit", as_json: bool, units: Units) -> None:
    import json
    from textwrap import fill

    from breakangle.documents.sheets.complaints import UNANSWERED, answer_words, told_words
    from breakangle.reference.messages import words
    from breakangle.services.readings.complaint_page import complaint_sheet
    from breakangle.services.readings.ways import Ways

    found = complaint_sheet(shop, visit, Ways())
    if as_json:
        data = [
            one.decided.complaint.model_dump(mode="json", exclude_unset=True)
            | {"unread": [place.body() for place in one.decided.unread]}
            | {"known": [message.model_dump(mode="json") for message in one.decided.evidence]}
            for one in found.complaints
        ]
        return say(json.dumps(data, indent=2, ensure_ascii=False))
    for number, one in enumerate(found.complaints, start=1):
        complaint = one.decided.complaint
        say(fill(f"{number}. {told_words(complaint)}", COLUMNS))
        for message in one.decided.evidence:
            say(fill(f"   {units.sentence(words(message))}", COLUMNS))
        for place in one.decided.unread:
            say(tr("   read: {place_words}", place_words=place.words))
        if one.decided.look is not None:
            say(fill(f"   {words(one.decided.look)}", COLUMNS))
        answer = tr(UNANSWERED) if complaint.answer is None else answer_words(complaint.answer)
        say(fill(f"   {answer}", COLUMNS))
    if not found.complaints:
        say(visit.complaint or tr("No complaint is taken down."))
    return None
