"""The `breakangle` command: finds its verbs by listing `verbs`, and turns errors into one sentence."""

import gc
import importlib
import os
import sys
from collections.abc import Collection, Sequence
from pathlib import Path
from types import ModuleType
from typing import NoReturn

from breakangle import __version__
from breakangle.cli import verbs
from breakangle.cli.parser import Parser
from breakangle.cli.stdout import drop_stdout, keep_stdout_clean
from breakangle.model.errors import BreakangleError
from breakangle.model.words.speech import language, language_of_environment, mark, tr

VERBS = Path(verbs.__path__[0])
GARBAGE_FROM = 50_000  # objects
BAD_INPUT, INTERRUPTED, READER_GONE = 2, 130, 141
DESCRIPTION = mark("From bench readings of a fretted instrument to a set-up plan that is right in one pass.")
EPILOG = mark(
    "exit codes: 0 done, 1 beyond a set-up (or what the verb says), 2 what was given "
    "cannot be right. BREAKANGLE_UNITS=in shows inches everywhere, "
    "BREAKANGLE_LANGUAGE names another language, where there is a catalogue of it."
)


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
    whole = Parser(prog="breakangle", description=tr(DESCRIPTION), epilog=tr(EPILOG))
    shown = tr("show program's version number and exit")
    whole.add_argument("--version", action="version", version=f"breakangle {__version__}", help=shown)
    verbs = whole.add_subparsers(title=tr("verbs"), metavar="VERB", dest="verb")
    for module in modules:
        known = set(verbs.choices)
        module.add(verbs)
        for name in set(verbs.choices) - known:
            verbs.choices[name].set_defaults(run=module.run)
    return whole, verbs.choices


def main(argv: Sequence[str] | None = None) -> int:
    """Return the exit code of one run with the words `argv` (None: the process's own), in the language asked for."""
    with language(language_of_environment()):
        return _main(argv)


def _main(argv: Sequence[str] | None) -> int:
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
            tr(
                "breakangle: the answer cannot be written: {strerror}.\n",
                strerror=(error.strerror or str(error)).lower(),
            )
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
