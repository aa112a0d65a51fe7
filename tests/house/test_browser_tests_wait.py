"""Browser tests press keys through `web_fixtures.ready` alone, which waits until the page's scripts listen.

Read from the source; planted violations are found.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
# What presses keys itself: the module that waits, and the one that goes through every key and does its own waiting.
MAY = {"web_fixtures/ready.py", "web_fixtures/pressed.py"}


def keys_pressed(tree: ast.AST) -> Iterator[int]:
    """Yield the lines that press keys: by a page's keyboard, or in a place by a key's name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr == "keyboard":
            yield node.lineno
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            named = node.args and isinstance(node.args[0], ast.Constant)
            located = isinstance(node.func.value, ast.Call)  # page.locator(...).press(key)
            if node.func.attr in ("press", "press_sequentially", "type") and (named or located):
                yield node.lineno


def browser_tests() -> list[Path]:
    found = [one for one in sorted(TESTS.rglob("*.py")) if "playwright" in one.read_text(encoding="utf-8")]
    return [one for one in found if one.relative_to(TESTS).as_posix() not in MAY]


def test_no_browser_test_presses_a_key_before_the_page_listens():
    found = {
        f"{path.relative_to(TESTS)}:{line}"
        for path in browser_tests()
        if path != Path(__file__)
        for line in keys_pressed(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert found == set()
    assert len(browser_tests()) > 20


@pytest.mark.parametrize(
    "line",
    [
        'page.keyboard.press("Enter")',
        "keys = screen.keyboard",
        'box.press("Enter")',
        "page.locator(x).press(key)",
    ],
)
def test_a_key_pressed_at_once_is_found(line: str):
    assert set(keys_pressed(ast.parse(line))) == {1}


def test_a_key_pressed_by_the_module_that_waits_is_allowed():
    assert list(keys_pressed(ast.parse('press(page, "Enter"); bench.press(button)'))) == []
