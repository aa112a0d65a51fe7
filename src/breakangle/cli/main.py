"""The `breakangle` command: finds its verbs by listing this folder, and turns errors into one sentence."""

import argparse
import importlib
import pkgutil
import sys
from collections.abc import Sequence
from types import ModuleType
from typing import Any, NoReturn

from breakangle import __version__, cli
from breakangle.cli.stdout import drop_stdout, keep_stdout_clean
from breakangle.model.errors import BreakangleError, CorrectInputError

BAD_INPUT, INTERRUPTED, READER_GONE = 2, 130, 141
DESCRIPTION = "From bench readings of a fretted instrument to a set-up plan that is right in one pass."
EPILOG = (
    "exit codes: 0 done, 1 beyond a set-up (or what the verb says), 2 what was given cannot be right. "
    "BREAKANGLE_UNITS=in shows inches everywhere."
)


class Parser(argparse.ArgumentParser):
    """A parser whose complaints are errors like all others: one sentence, exit code 2; no word may be cut."""

    def __init__(self, **options: Any) -> None:
        """Make a parser as argparse does, without its guessing of shortened options."""
        options["allow_abbrev"] = False
        super().__init__(**options)

    def error(self, message: str) -> NoReturn:
        """Raise what argparse would print with its usage.

        Raises:
            CorrectInputError: always.
        """
        raise CorrectInputError(f"{self.prog}: {message}", "", f"see {self.prog} --help")


def verb_modules() -> list[ModuleType]:
    """Return the modules of this folder that bring a verb; one with a leading _ is part of another."""
    own = {"main", "stdout"}
    found = [one.name for one in pkgutil.iter_modules(cli.__path__) if not one.ispkg]
    names = sorted(name for name in found if name not in own and not name.startswith("_"))
    modules = [importlib.import_module(f"{cli.__name__}.{name}") for name in names]
    return [one for one in modules if hasattr(one, "add") and hasattr(one, "run")]


def parser() -> Parser:
    """Return the parser with every verb; each brings `add(verbs)` and `run(arguments)`."""
    whole = Parser(prog="breakangle", description=DESCRIPTION, epilog=EPILOG)
    whole.add_argument("--version", action="version", version=f"breakangle {__version__}")
    verbs = whole.add_subparsers(title="verbs", metavar="VERB", dest="verb")
    for module in verb_modules():
        known = set(verbs.choices)
        module.add(verbs)
        for name in set(verbs.choices) - known:
            verbs.choices[name].set_defaults(run=module.run)
    return whole


def main(argv: Sequence[str] | None = None) -> int:
    """Return the exit code of one run with the words `argv` (None: the process's own)."""
    try:
        whole = parser()
        arguments = whole.parse_args(argv)
        if arguments.verb is None:
            whole.print_help()
            return 0
        code = int(arguments.run(arguments))
        sys.stdout.flush()
        return code
    except SystemExit as leave:
        return int(leave.code or 0)
    except BreakangleError as error:
        sys.stderr.write(f"breakangle: {' '.join(str(error).split())}\n")
        return BAD_INPUT
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        return READER_GONE
    except OSError as error:
        sys.stderr.write(
            f"breakangle: the answer cannot be written: {(error.strerror or str(error)).lower()}.\n"
        )
        return BAD_INPUT


def enter() -> NoReturn:
    """Run the command as a process of its own, and leave with its exit code."""
    keep_stdout_clean()
    code = main()
    try:
        sys.stdout.flush()
    except OSError:
        # main has said so, or the reader has gone; Python would complain once more on leaving.
        drop_stdout()
    sys.exit(code)
