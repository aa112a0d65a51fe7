"""`breakangle kind`: the shop's own kinds of instrument, made by copying the nearest."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.shop_entry import add_shop, opened, stamp_of
from breakangle.cli.render.units import add_units, units_asked
from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import tr, tr_n

if TYPE_CHECKING:
    from breakangle.model.kind.kind_table import KindTable
    from breakangle.services.workshop.kinds import ShopKind
    from breakangle.storage.records.store import Shop


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "kind",
        help=tr("the shop's own kinds of instrument, made by copying the nearest"),
        description=tr(
            "List the kinds of instrument; make one by copying the nearest (--copy), or from an instrument (--visit); "
            "print, change or take off the list one of the shop's."
        ),
        epilog=tr(
            'such as: breakangle kind --copy mandolin --name "Octave mandolin" --set scale_mm=530 --strings '
            "strings.txt"
        ),
    )
    _options(verb)
    add_units(verb)
    add_shop(verb, writes=True)


def _options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument(
        "key", nargs="?", metavar="KIND", help=tr("one of the shop's kinds, as the list has it")
    )
    verb.add_argument("--copy", metavar="KIND", help=tr("make one: the nearest kind there is"))
    verb.add_argument(
        "--visit", metavar="NUMBER", dest="number", help=tr("make one of that sheet's instrument")
    )
    verb.add_argument("--name", metavar="NAME", help=tr("what it is called in lists"))
    verb.add_argument(
        "--set",
        metavar="BOX=VALUE",
        action="append",
        default=[],
        dest="boxes",
        help=tr("such as scale_mm=530"),
    )
    verb.add_argument(
        "--strings", metavar="FILE", help=tr("its strings, one a line, string 1 first: E5 0.279 plain-steel")
    )
    verb.add_argument(
        "--file", metavar="FILE", help=tr("write a service file of that kind, with nothing read")
    )
    verb.add_argument(
        "--delete", action="store_true", help=tr("take it off the list; its instruments keep it")
    )
    verb.add_argument("--back", action="store_true", help=tr("put it on the list again"))
    verb.add_argument("--json", action="store_true", help=tr("its table as JSON"))


def run(arguments: argparse.Namespace) -> int:
    """Print the list or the kind, after what was asked for was done.

    Raises:
        BreakangleError: a kind, file or figure that cannot be right.
    """
    ways = [arguments.copy, arguments.number, arguments.key]
    if sum(one is not None for one in ways) > 1:
        raise CorrectInputError(
            tr("more than one kind is named"), tr("KIND, --copy KIND or --visit NUMBER"), tr("name one")
        )
    _refuse_dangling(arguments, any(one is not None for one in ways))
    with opened(arguments) as shop:
        if not any(one is not None for one in ways):
            return _listed(shop)
        if arguments.delete and arguments.key is not None:
            return _removed(shop, arguments)
        found = _asked(shop, arguments)
    _said(found, arguments)
    return 0


def _refuse_dangling(arguments: argparse.Namespace, named: bool) -> None:
    """Refuse options that say what to do with a kind where none is named, or with one that is only made now."""
    given = {
        "--set": arguments.boxes, "--name": arguments.name, "--strings": arguments.strings, "--file": arguments.file,
        "--json": arguments.json, "--delete": arguments.delete, "--back": arguments.back,
    }  # fmt: skip
    told = [option for option, value in given.items() if value not in (None, False, [])]
    if not named and told:
        raise CorrectInputError(
            tr("{option} without a kind", option=told[0]),
            tr("KIND, --copy KIND or --visit NUMBER"),
            tr("name one"),
        )
    if arguments.key is None and (arguments.delete or arguments.back):
        raise CorrectInputError(
            tr("{option} is for a kind that is there", option="--delete" if arguments.delete else "--back"),
            "KIND",
            tr("name one"),
        )


def _asked(shop: "Shop", arguments: argparse.Namespace) -> "ShopKind":
    """Return the kind after it was made, changed or put back."""
    from breakangle.services.intake.kept_kinds import add_kind, change_kind, put_back_kind
    from breakangle.services.service_files.kinds.boxes import kind_typed
    from breakangle.services.workshop.kinds import shop_kind

    own_unit, boxes, stamp = units_asked(arguments).name, _boxes(arguments), stamp_of(arguments)
    if arguments.key is None:
        base, instrument = _base(shop, arguments)
        if "words" not in boxes:
            raise CorrectInputError(tr("the kind has no name"), tr("--name NAME"), tr("give one"))
        return add_kind(shop, stamp, kind_typed(base, boxes, own_unit), instrument)
    found = put_back_kind(shop, stamp, arguments.key) if arguments.back else shop_kind(shop, arguments.key)
    if not boxes:
        return found
    return change_kind(shop, stamp, found.key, kind_typed(found.table, boxes, own_unit), found.version)


def _base(shop: "Shop", arguments: argparse.Namespace) -> tuple["KindTable", str]:
    """Return the table to begin with, and the instrument that becomes the first of the kind, if any."""
    from breakangle.reference.families import family_of
    from breakangle.services.service_files.kinds.copied import table_of, table_of_instrument
    from breakangle.services.visits.visits import instrument_of, visit_numbered
    from breakangle.services.workshop.kinds import kind_here
    from breakangle.storage.records.records import InstrumentRecord

    if arguments.number is None:
        return table_of(kind_here(shop, arguments.copy)), ""
    if not arguments.number.isdecimal():
        raise CorrectInputError(
            tr('"{number}" is no sheet number', number=arguments.number[:20]), tr("a whole number"), ""
        )
    key = visit_numbered(shop, int(arguments.number)).instrument_id
    instrument = instrument_of(shop.get(InstrumentRecord, key))
    return table_of_instrument(instrument, family_of(instrument)), key


def _boxes(arguments: argparse.Namespace) -> dict[str, str]:
    from pathlib import Path

    found: dict[str, str] = {}
    for word in arguments.boxes:
        name, equals, value = word.partition("=")
        if not equals:
            raise CorrectInputError(f'"{word}"', tr("BOX=VALUE, such as {example}", example="scale_mm=530"))
        found[name.strip()] = value
    if arguments.name is not None:
        found["words"] = arguments.name
    if arguments.strings is not None:
        try:
            found["strings"] = Path(arguments.strings).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as cause:
            raise CorrectInputError(
                tr("{path} cannot be read", path=arguments.strings),
                tr("a text of strings"),
                tr("name another file"),
            ) from cause
    return found


def _listed(shop: "Shop") -> int:
    from breakangle.reference.families import families, family
    from breakangle.services.intake.kept_kinds import kinds_off_list
    from breakangle.services.workshop.kinds import shop_kinds

    own = shop_kinds(shop)
    for key in families():
        if key not in [one.key for one in own]:
            say(f"{key:30} {tr(family(key).words)}")
    for one in own:
        count = tr_n("{count} instrument", "{count} instruments", one.instruments, count=one.instruments)
        say(f"{one.key:30} {one.table.words} ({tr('own')}, {count})")
    for key, table in kinds_off_list(shop):
        say(f"{key:30} {table.words} ({tr('not on the list')})")
    return 0


def _removed(shop: "Shop", arguments: argparse.Namespace) -> int:
    from breakangle.services.intake.kept_kinds import remove_kind

    remove_kind(shop, stamp_of(arguments), arguments.key)
    say(tr("{key} is off the list; its instruments keep what it was", key=arguments.key))
    return 0


def _said(found: "ShopKind", arguments: argparse.Namespace) -> None:
    from breakangle.services.service_files.kinds.boxes import boxes_of

    if arguments.file is not None:
        from breakangle.reference.families import family_with
        from breakangle.services.service_files.example import empty_service
        from breakangle.services.service_files.service_written import write_service

        write_service(arguments.file, empty_service(family_with(found.key, found.table)))
    if arguments.json:
        import json

        say(json.dumps({"kind": found.key, "kind_table": found.table.plain()}, indent=1, ensure_ascii=False))
        return
    say(f"{found.key}: {found.table.words}")
    for name, text in boxes_of(found.table, units_asked(arguments).name).items():
        if name == "strings":
            say(tr("strings:"))
            for line in text.splitlines():
                say(f"  {line}")
        elif name != "words":
            say(f"{name}={text}")
    if arguments.file is not None:
        say(tr("written: {said}", said=arguments.file))
