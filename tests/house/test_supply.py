"""What is installed: locked by hash, at bounds that the tests run with, and listed with its licence."""

import json
import re
import tomllib
from collections.abc import Mapping
from importlib.metadata import version
from pathlib import Path

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
EXTRAS = PROJECT["project"]["optional-dependencies"]
LOCKS = sorted((ROOT / "requirements").glob("*.txt"))
# The system that the lists are of: what `make supply` was run on. Every marker of the lock files uses only these.
HERE = {
    "python_full_version": "3.11.7", "python_version": "3.11", "sys_platform": "linux", "platform_machine": "x86_64",
    "platform_system": "Linux", "implementation_name": "cpython", "platform_python_implementation": "CPython",
}  # fmt: skip
# Which lock file each list of pyproject.toml is locked in.
WHERE = {
    "dependencies": "run", "phone": "run", "plot": "run", "postgresql": "test", "test": "test", "bench": "bench",
    "supply": "supply", "build": "build", "frame": "test", "fleet": "test", "docs": "test", "mutants": "mutants",
}  # fmt: skip
DECLARED = [
    *(("dependencies", line) for line in PROJECT["project"]["dependencies"]),
    *((extra, line) for extra, lines in EXTRAS.items() for line in lines),
    *(("build", line) for line in PROJECT["build-system"]["requires"]),
]


def blocks(lock: Path) -> list[str]:
    """Return the lines of each package of a lock file."""
    return re.split(r"\n(?=[a-z0-9])", lock.read_text(encoding="utf-8").strip())


def pinned(name: str, system: Mapping[str, str] = HERE) -> dict[str, str]:
    """Return the version of each package of a lock file on a system, by default that of the lists."""
    asked = [Requirement(one.split("\\\n")[0]) for one in blocks(ROOT / f"requirements/{name}.txt")]
    return {
        canonicalize_name(one.name): str(one.specifier).removeprefix("==")
        for one in asked
        if one.marker is None or one.marker.evaluate(dict(system))
    }


def shipped() -> dict[str, str]:
    """Return what a user's installation has: the run's packages and PostgreSQL's driver."""
    return pinned("run") | {name: at for name, at in pinned("test").items() if name.startswith("psycopg")}


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.stem)
def test_a_lock_file_pins_each_package_with_hashes_and_names_no_place(lock):
    for block in blocks(lock):
        assert re.match(r"[a-z0-9-]+==[0-9][^ ]*( ; [^\\]+)? \\\n", block), block
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", block), block
    text = lock.read_text(encoding="utf-8")
    # No address, no file, and no option of its own, which is where a place to fetch from would be named.
    assert not re.search(r"(?m)://|file:|@ |^-", text)


def test_lock_files_agree_with_each_other():
    seen: dict[str, str] = {}
    for lock in LOCKS:
        for name, at in pinned(lock.stem).items():
            assert seen.setdefault(name, at) == at, name


@pytest.mark.parametrize(("kind", "line"), DECLARED, ids=lambda word: word)
def test_a_declared_package_is_locked_inside_its_bounds_and_the_upper_one_is_the_next_major_version(
    kind, line
):
    asked = Requirement(line)
    locked = Version(pinned(WHERE[kind])[canonicalize_name(asked.name)])
    assert asked.specifier.contains(locked), f"{line}: locked at {locked}"
    bounds = {one.operator: Version(one.version) for one in asked.specifier}
    assert set(bounds) == {">=", "<"}, line
    nexts = {Version(str(locked.major + 1))}
    if locked.major == 0:
        nexts.add(Version(f"0.{locked.minor + 1}"))
    assert bounds["<"] in nexts, f"{line}: locked at {locked}"


def test_the_tests_run_with_what_is_locked():
    here = {name: str(value) for name, value in default_environment().items()}
    apart = {name: (at, version(name)) for name, at in pinned("test", here).items() if version(name) != at}
    assert apart == {}


def test_everything_is_installed_by_hash():
    """Python's packages by the Makefile, the screens' by npm from their lock file, the compiler where there is none."""
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    installs = re.findall(r"^\t.*?\$\((LOCKED|OWN|PIP)\)(.*)$", makefile, re.MULTILINE)
    assert {kind for kind, _ in installs} == {"LOCKED", "OWN"}
    assert re.search(r"^LOCKED = .*--require-hashes$", makefile, re.MULTILINE)
    assert re.search(r"^OWN = .*--no-deps --no-build-isolation -e \.$", makefile, re.MULTILINE)
    assert "pip install" not in re.sub(r"^PIP := .*$", "", makefile, flags=re.MULTILINE)
    assert re.search(r"^COMPILER = .*,-r requirements/compiler\.txt\)$", makefile, re.MULTILINE)
    named = {name for _, words in installs for name in re.findall(r"requirements/([a-z]+)\.txt", words)}
    assert named | {"compiler"} == {lock.stem for lock in LOCKS}
    hook = (ROOT / "hatch_build.py").read_text(encoding="utf-8")
    assert 'npm(["ci"' in hook
    assert Requirement(re.findall(r'"(ziglang[^"]*)"', hook)[0]).specifier.contains(
        pinned("compiler")["ziglang"]
    )


def test_the_bill_of_materials_names_what_is_locked():
    bill = json.loads((ROOT / "docs/supply/python.cdx.json").read_text(encoding="utf-8"))
    assert bill["bomFormat"] == "CycloneDX"
    listed = {canonicalize_name(one["name"]): one["version"] for one in bill["components"]}
    assert listed == shipped()


def test_the_list_of_licences_names_what_is_locked_and_each_has_one():
    rows = [
        [cell.strip() for cell in line.split("|")[1:4]]
        for line in (ROOT / "docs/supply/licences.md").read_text(encoding="utf-8").splitlines()
        if line.startswith("| ") and not line.startswith("| Name")
    ]
    assert {canonicalize_name(name): at for name, at, _ in rows} == shipped()
    assert [name for name, _, licence in rows if licence in ("", "UNKNOWN")] == []


def test_the_bill_of_the_screens_names_what_npm_has_locked():
    lock = json.loads((ROOT / "src/breakangle/web/frontend/package-lock.json").read_text(encoding="utf-8"))
    bill = json.loads((ROOT / "docs/supply/screens.cdx.json").read_text(encoding="utf-8"))
    wanted = {
        path.removeprefix("node_modules/"): one["version"]
        for path, one in lock["packages"].items()
        if path and not one.get("dev")
    }
    assert {one["name"]: one["version"] for one in bill["components"]} == wanted
    assert all(
        one.get("integrity", "").startswith("sha512-") for path, one in lock["packages"].items() if path
    )
