"""`serve`: the bench app, in a browser, on this computer or its network too."""

import argparse
from typing import TYPE_CHECKING, Any

from breakangle.cli.render.entry import say
from breakangle.cli.render.typed_options import whole
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from datetime import datetime

    from breakangle.web.options import Options


def add(verbs: Any) -> None:
    """Add the verb and its options."""
    verb = verbs.add_parser(
        "serve",
        help=tr("the bench app, in a browser"),
        description=tr(
            "Serve the bench app to the browser of this computer, until interrupted with Ctrl+C. "
            "With --network also to phones and tablets that were paired; the address and a code "
            "to pair one are printed."
        ),
    )
    verb.add_argument("--port", type=whole, default=8320, help=tr("of this computer (8320)"))
    verb.add_argument("--open", action="store_true", help=tr("open a browser on it"))
    verb.add_argument(
        "--example-first",
        action="store_true",
        help=tr("where the shop is new, make the example workshop and open there"),
    )
    verb.add_argument("--network", action="store_true", help=tr("let paired devices of the network in too"))
    verb.add_argument(
        "--secure",
        action="store_true",
        help=tr(
            "with --network: over https by the workshop's own certificate, so that their microphone works"
        ),
    )
    verb.add_argument(
        "--take-over",
        action="store_true",
        help=tr("serve although another server holds this shop, which then stores nothing any more"),
    )
    verb.add_argument(
        "--name",
        action="append",
        default=[],
        metavar="NAME",
        help=tr("with --network: one more name or address of it"),
    )


def run(arguments: argparse.Namespace) -> int:
    """Serve until interrupted.

    Raises:
        BreakangleError: the port or the shop's folder cannot be had, or options that do not fit together.
    """
    import sys
    from datetime import UTC, datetime

    from breakangle.web.authority import certificates
    from breakangle.web.first_run import first_page
    from breakangle.web.server import serve

    options = _options(arguments)
    files = None
    if options.secure_port is not None:
        names = tuple(host for host in options.hosts if not host.startswith("["))
        files = certificates(options.folder, names, datetime.now(UTC))
    at = first_page(options, arguments.example_first)

    def ready(address: str) -> None:
        say(tr("Breakangle is at {address}{at}  (Ctrl+C ends it)", address=address, at=at))
        if options.network:
            _tell_network(options)
        sys.stdout.flush()

    serve(options, ready, at if arguments.open else None, files)
    return 0


def _options(arguments: argparse.Namespace) -> "Options":
    import os

    from breakangle.model.errors import CorrectInputError
    from breakangle.services.workshop.opening import URL_NAME, data_folder
    from breakangle.web.names import network_names
    from breakangle.web.options import LOOPBACK_HOSTS, Options

    if not 0 < arguments.port < 65535:
        raise CorrectInputError(
            tr("port {port}", port=arguments.port), tr("from 1 to 65534"), tr("8320 is usual")
        )
    if (arguments.secure or arguments.name) and not arguments.network:
        raise CorrectInputError(tr("--secure and --name are for other devices"), "", "add --network")
    names = network_names(tuple(arguments.name)) if arguments.network else ()
    return Options(
        data_folder(),
        os.environ.get(URL_NAME) or None,
        port=arguments.port,
        hosts=tuple(dict.fromkeys([*LOOPBACK_HOSTS, *names])),
        network=arguments.network,
        secure_port=arguments.port + 1 if arguments.secure else None,
        take_over=arguments.take_over,
    )


def _tell_network(options: "Options") -> None:
    """Print the address for other devices, with a code that pairs one, as a picture to scan too."""
    import sys
    from datetime import UTC, datetime

    import segno

    from breakangle.model.errors import BreakangleError

    if not options.network_addresses:
        say(tr("This computer has no address on a network. Connect it, then start again."))
        return
    try:
        code = _pairing_code(options, datetime.now(UTC))
    except BreakangleError as error:  # the page on this computer leads back to a backup, so it must be served
        say(tr("No device can be paired now: {error}", error=error))
        return
    address = options.network_addresses[0]
    say(
        tr(
            "On other devices of the network: {network_addresses}",
            network_addresses=", ".join(options.network_addresses),
        )
    )
    if options.secure_port is not None:
        plain = address.replace("https:", "http:").replace(f":{options.secure_port}", f":{options.port}")
        say(tr("Install the workshop's certificate there first: {plain}/authority", plain=plain))
    say(tr("Pairing code, for one device, 10 minutes: {code}", code=code))
    segno.make(f"{address}/pair?code={code}", micro=False).terminal(out=sys.stdout, compact=True)


def _pairing_code(options: "Options", now: "datetime") -> str:
    from breakangle.services.workshop.devices import make_pairing_code
    from breakangle.services.workshop.opening import shop_at
    from breakangle.storage.schema.stamp import NOBODY_NAMED, Stamp

    shop = shop_at(options.folder, options.database_url)
    try:
        return make_pairing_code(shop, Stamp(NOBODY_NAMED, now), "bench", now)
    finally:
        shop.close()
