"""No code that nothing but tests uses: vulture looks, what it cannot see stands in `tools/dead_code_known.py`."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]


def test_only_a_planted_dead_function_is_found(tmp_path: Path):
    planted = tmp_path / "planted.py"
    planted.write_text(
        '"""Planted."""\n\n\ndef saddle_never_cut():\n    """Nobody asks for it."""\n', encoding="utf-8"
    )
    done = subprocess.run(
        [sys.executable, "-m", "vulture", "src", "bench", "tools", str(planted)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    found = done.stdout.splitlines()
    assert [line.partition(": ")[2] for line in found] == [
        "unused function 'saddle_never_cut' (60% confidence)"
    ]
