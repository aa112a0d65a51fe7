"""The `breakangle` command: finds its verbs by listing `verbs`, and turns errors into one sentence."""

import argparse
import gc
import importlib
import os
import sys
from collections.abc import Collection, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any, NoReturn

from breakangle import __version__
from breakangle.cli import verbs
from breakangle.cli.stdout import drop_stdout, keep_stdout_clean
from breakangle.model.errors import BreakangleError, CorrectInputError

VERBS = Path(verbs.__path__[0])
GARBAGE_FROM = 50_000  # objects
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
    """Return the modules in the topics' folders that bring a verb, in the order of their names."""
    found = sorted((path.stem, path.parent.name) for path in VERBS.glob("*/*.py") if path.stem != "__init__")
    modules = [importlib.import_module(f"{verbs.__name__}.{topic}.{name}") for name, topic in found]
    return [module for module in modules if hasattr(module, "add") and hasattr(module, "run")]


def module_of(verb: str) -> list[ModuleType]:
    """Return the module whose file has the verb's name, alone in a list; nothing where another file brings it."""
    name = verb.replace("-", "_")
    plain = name.isidentifier() and not name.startswith("_")
    topic = next((path.parent.name for path in VERBS.glob(f"*/{name}.py")), "") if plain else ""
    if not topic:
        return []
    module = importlib.import_module(f"{verbs.__name__}.{topic}.{name}")
    return [module] if hasattr(module, "add") and hasattr(module, "run") else []


def parser_for(words: Sequence[str]) -> Parser:
    """Return a parser for these words: of the one verb they name where its file has its name, else of all verbs."""
    made, verbs = _parser(module_of(words[0]) if words else [])
    return made if words and words[0] in verbs else parser()


def parser() -> Parser:
    """Return the parser with every verb."""
    return _parser(verb_modules())[0]


def _parser(modules: Sequence[ModuleType]) -> tuple[Parser, Collection[str]]:
    """Return a parser with these modules' verbs, and their names; each brings `add(verbs)` and `run(arguments)`."""
    whole = Parser(prog="breakangle", description=DESCRIPTION, epilog=EPILOG)
    whole.add_argument("--version", action="version", version=f"breakangle {__version__}")
    verbs = whole.add_subparsers(title="verbs", metavar="VERB", dest="verb")
    for module in modules:
        known = set(verbs.choices)
        module.add(verbs)
        for name in set(verbs.choices) - known:
            verbs.choices[name].set_defaults(run=module.run)
    return whole, verbs.choices


def main(argv: Sequence[str] | None = None) -> int:
    """Return the exit code of one run with the words `argv` (None: the process's own)."""
    try:
        given = sys.argv[1:] if argv is None else argv
        whole = parser_for(given)
        arguments = whole.parse_args(given)
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
    # A short process makes little rubbish: looking for it at every few hundred objects takes a tenth of its time.
    gc.set_threshold(GARBAGE_FROM)
    # Looking for other packages' additions to the checking of data takes longer than the checking.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    code = main()
    try:
        sys.stdout.flush()
    except OSError:
        # main has said so, or the reader has gone; Python would complain once more on leaving.
        drop_stdout()
    gc.freeze()  # what is still held goes with the process: it need not be looked through once more
    sys.exit(code)
