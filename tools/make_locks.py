"""Write the lock files in `requirements/` anew: `python tools/make_locks.py [--upgrade]`.

Every file names each package once, with the hashes of all its published files, for every system and every Python from
the lowest that is allowed: `build` what builds this package, `compiler` a C compiler for machines without one, `run`,
`test` and `bench` what the three make targets use, `supply` what makes these files and the lists in `docs/supply`.
Without `--upgrade` what is locked stays, as far as pyproject.toml still allows it. Indexes that a machine has beside
the public one are not asked.
"""

import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
LOCKS = ROOT / "requirements"
EDITABLES = "editables~=0.3"  # hatchling asks for it when a package is installed in place
COMPILER = "ziglang>=0.13"  # hatch_build.py asks for it where there is no compiler
EXTRAS = {
    "run": ("phone", "plot"),
    "test": ("phone", "plot", "postgresql", "docs", "test"),
    "bench": ("phone", "plot", "postgresql", "bench"),
    "mutants": ("phone", "plot", "postgresql", "docs", "test", "mutants"),
    "supply": ("supply",),
}


def lock(name: str, wanted: list[str], upgrade: list[str]) -> None:
    """Resolve what is wanted into `requirements/NAME.txt`, at the versions of the tests' file where that has them."""
    target = LOCKS / f"{name}.txt"
    beside = [] if name == "test" else ["--constraints", str(LOCKS / "test.txt")]
    subprocess.run(
        [
            sys.executable, "-m", "uv", "pip", "compile", "--quiet", "--universal", "--python-version", "3.11",
            "--generate-hashes", "--no-annotate", "--no-header", "--no-config", *upgrade, *beside,
            "--output-file", str(target), "-",
        ],
        input="\n".join(wanted), text=True, check=True, cwd=ROOT,
    )  # fmt: skip


def main() -> None:
    """Lock the tests' packages first, which are the most, then the others at the same versions."""
    about = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    project, built_with = about["project"], about["build-system"]["requires"]
    upgrade = [one for one in sys.argv[1:] if one == "--upgrade"]
    for name in ("test", "run", "bench", "mutants", "supply"):
        more = [line for extra in EXTRAS[name] for line in project["optional-dependencies"][extra]]
        lock(name, more if name == "supply" else [*project["dependencies"], *more], upgrade)
    lock("build", [*built_with, EDITABLES], upgrade)
    lock("compiler", [COMPILER], upgrade)


if __name__ == "__main__":
    main()
