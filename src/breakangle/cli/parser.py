"""The parser of the command line: its complaints are errors like all others, its own words in the language spoken."""

import argparse
from typing import Any, NoReturn

from breakangle.model.errors import CorrectInputError
from breakangle.model.words.speech import mark, tr, tr_n

# What argparse itself says, so that it is in the catalogue; `%s` and `%(name)s` are the places for its values.
OWN_WORDS = (
    mark("usage: "),
    mark("positional arguments"),
    mark("options"),
    mark("show this help message and exit"),
    mark("show program's version number and exit"),
    mark("the following arguments are required: %s"),
    mark("unrecognized arguments: %s"),
    mark("argument %(argument_name)s: %(message)s"),
    mark("invalid choice: %(value)r (choose from %(choices)s)"),
    mark("invalid %(type)s value: %(value)r"),
    mark("expected one argument"),
    mark("expected at most one argument"),
    mark("expected at least one argument"),
    mark("not allowed with argument %s"),
    mark("one of the arguments %s is required"),
    mark("ignored explicit argument %r"),
)
OWN_COUNTED = tr_n("expected %s argument", "expected %s arguments", 1)
# argparse asks the process's catalogue for its words; here the catalogue is that of the running command.
vars(argparse).update(_=tr, ngettext=tr_n)


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
        raise CorrectInputError(f"{self.prog}: {message}", "", tr("see {prog} --help", prog=self.prog))
