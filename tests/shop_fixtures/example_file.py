"""Fixture: `example` is the name of a file with the example service."""

import pytest

from breakangle.services.service_files.example import example_text


@pytest.fixture
def example(tmp_path) -> str:
    """Return the name of a file with the example service."""
    file = tmp_path / "service.json"
    file.write_text(example_text(), encoding="utf-8")
    return str(file)
