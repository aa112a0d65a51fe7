"""What the command says in this process, held to its exit code."""

from breakangle.cli.main import main


def ran(capsys, *words: str, code: int = 0) -> str:
    """Return what a command prints, held to its exit code; it complains of nothing."""
    assert main(words) == code
    out, err = capsys.readouterr()
    assert err == ""
    return out
