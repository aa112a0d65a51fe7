"""Winding on: what is said of posts is not said of the rollers of a slotted head."""

import pytest

from breakangle.cli.main import main
from breakangle.services.strings.winding import wind


def test_rollers_have_their_own_words() -> None:
    said = " ".join(wind(0.7, kind="roller", winds_usual="nylon").sentences)
    assert "evenly" in said
    assert "nearer side of the head" in said
    assert "below the last" not in said
    assert "presses on the nut" not in said
    locked = " ".join(wind(0.7, kind="roller", lay="locked", winds_usual="nylon").sentences)
    assert "over the tail" in locked
    assert "below" not in locked


def test_posts_keep_theirs() -> None:
    said = " ".join(wind(0.7, kind="plain").sentences)
    assert "Every wind goes below the last" in said
    assert "nearer side" not in said


def test_at_the_command_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["wind", "--string", "0.7mm", "--post", "roller"]) == 0
    assert "side by side, evenly" in " ".join(capsys.readouterr().out.split())
