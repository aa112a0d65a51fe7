"""The documentation site: every page is reached, every link leads somewhere, nothing is fetched from elsewhere."""

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[3]
SECTIONS = (
    "Start", "At the bench", "Command line", "Python", "Service file", "How it works", "Reference", "Decisions",
    "Changes",
)  # fmt: skip


def tool(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def site(tmp_path_factory) -> Path:
    """The site as `make docs` builds it, where a warning is an error."""
    into = tmp_path_factory.mktemp("site")
    assert tool("make_site").build(into) == ""
    return into


def test_the_site_has_its_sections_in_order(site: Path):
    text = (site / "index.html").read_text(encoding="utf-8")
    found = re.findall(r'<p class="caption"[^>]*><span class="caption-text">([^<]+)</span>', text)
    assert tuple(found) == SECTIONS


def test_every_page_of_the_docs_is_a_page_of_the_site(site: Path):
    pages = [path.relative_to(ROOT / "docs") for path in (ROOT / "docs").rglob("*.md")]
    assert len(pages) > 40
    assert [str(page) for page in pages if not (site / page.with_suffix(".html")).exists()] == []


def test_reading_the_site_fetches_nothing_from_elsewhere(site: Path):
    text = "".join(path.read_text(encoding="utf-8") for path in site.rglob("*.html"))
    assert re.findall(r'<(?:script|img|iframe)[^>]+src="(?:https?:)?//[^"]*"', text) == []
    assert re.findall(r'<link[^>]+rel="stylesheet"[^>]+href="(?:https?:)?//[^"]*"', text) == []


@pytest.mark.parametrize(
    ("page", "said"),
    [
        ("# A\n\n[nowhere](nowhere.md)\n", "nowhere.md"),
        ("# A\n\n[no heading](#nowhere)\n", "nowhere"),
        ("# A\n\n![no picture](nowhere.png)\n", "nowhere.png"),
    ],
)
def test_a_planted_link_to_nowhere_is_an_error(tmp_path: Path, page: str, said: str):
    (tmp_path / "docs").mkdir()
    (tmp_path / "docs" / "index.md").write_text(page, encoding="utf-8")
    assert said in tool("make_site").build(tmp_path / "site", tmp_path / "docs")


def test_the_page_of_the_physics_is_current():
    made = tool("make_physics_page")
    assert made.TARGET.read_text(encoding="utf-8") == made.page(), "run: python tools/make_physics_page.py"
    assert made.page().count("Source:") > 50
