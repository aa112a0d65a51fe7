"""Run every benchmark in this folder, or those named: `python -m bench [--quick] [name ...]`."""

import importlib
import pkgutil
import sys
from pathlib import Path

from breakangle.cli.stdout import keep_stdout_clean


def main(arguments: list[str]) -> int:
    quick = "--quick" in arguments
    wanted = [word for word in arguments if not word.startswith("-")]
    names = sorted(found.name for found in pkgutil.iter_modules([str(Path(__file__).parent)]))
    for name in wanted or [n for n in names if not n.startswith("_")]:
        module = importlib.import_module(f"bench.{name}")
        if hasattr(module, "report"):
            print(f"\n=== {name}\n{module.report(quick=quick)}", flush=True)
    return 0


if __name__ == "__main__":
    keep_stdout_clean()
    sys.exit(main(sys.argv[1:]))
