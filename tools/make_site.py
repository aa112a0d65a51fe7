"""Build the documentation site: `python tools/make_site.py [--open] [FOLDER]`; warnings are errors.

It stands in `docs/_site` where no folder is named. Nothing of an earlier build is used.
"""

import subprocess
import sys
import webbrowser
from pathlib import Path

ROOT = Path(__file__).parents[1]


def build(into: Path, source: Path = ROOT / "docs") -> str:
    """Build the site of a folder of pages; return what is wrong with them, nothing where all is well."""
    done = subprocess.run(
        [
            sys.executable, "-m", "sphinx", "--quiet", "--fail-on-warning", "--fresh-env", "--builder", "html",
            "--conf-dir", str(ROOT / "docs"), "--doctree-dir", str(into / ".doctrees"), str(source), str(into),
        ],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    return done.stderr or done.stdout if done.returncode else ""


def main(words: list[str]) -> int:
    """Build the site, open it where asked to, and return the exit code."""
    into = Path(next((word for word in words if word != "--open"), ROOT / "docs" / "_site"))
    wrong = build(into)
    sys.stderr.write(wrong)
    if wrong:
        return 1
    start = into.resolve() / "index.html"
    print(start)  # noqa: T201
    if "--open" in words:
        webbrowser.open(start.as_uri())
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
