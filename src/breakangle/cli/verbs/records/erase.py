"""`breakangle erase`: a person erased from everything the shop keeps."""

import argparse
from typing import Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of
from breakangle.model.words.speech import tr


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "erase",
        help=tr("erase a person, for good"),
        description=tr(
            "Erase a person's name, address, e-mail, telephone and photographs from the records, "
            "what stood in them before, the index, the files and the backups in the shop's "
            "folder. Readings and work stay, of nobody; bills stay, without the name, and are "
            "listed. Closed sheets are replaced by ones without the person."
        ),
    )
    verb.add_argument("person", metavar="PERSON", help=tr("the name, or the id"))
    verb.add_argument("--sure", action="store_true", help=tr("nothing brings it back"))
    add_shop(verb, writes=True)


def run(arguments: argparse.Namespace) -> int:
    """Do it and say what was kept.

    Raises:
        BreakangleError: no such person, several, or not said to be sure.
    """
    from breakangle.services.records.erase import erase_person, erased_words, person_named

    with opened(arguments) as shop:
        owner = person_named(shop, arguments.person)
        done = erase_person(shop, owner.id, stamp_of(arguments), arguments.sure)
    for line in erased_words(done):
        say(line)
    return 0
