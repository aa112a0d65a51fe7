"""Run the proofs that are too long for every change: `python -m bench.prove [--quick] [name ...]`.

To add one: write `bench/<name>.py` with `prove(quick) -> (whether it holds, what was measured)`, and name it here.
"""

import importlib
import sys

PROOFS = (
    "keys", "page_rules", "large_type", "whole", "marks", "kills", "import_fuzz", "every_route", "fleet_faults",
    "words", "targets_heard",
)  # fmt: skip


def main(arguments: list[str]) -> int:
    """Run every proof, or those named, and return 1 where one does not hold."""
    quick = "--quick" in arguments
    named = [word for word in arguments if not word.startswith("-")]
    broken = []
    for name in named or PROOFS:
        good, told = importlib.import_module(f"bench.{name}").prove(quick=quick)
        print(f"\n=== {name}: {'holds' if good else 'DOES NOT HOLD'}\n{told}", flush=True)
        broken += [] if good else [name]
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
