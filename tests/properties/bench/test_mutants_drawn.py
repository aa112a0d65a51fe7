"""Mutation testing: the seed decides what is drawn, and the quickest tests that reach a change try it."""

import pytest

from bench import mutants
from bench.mutants import GROUPS, ROOT, drawn, equal, place, quickest, table

NAMES = [f"breakangle.physics.neck.gaps.x_relief_mm__mutmut_{number}" for number in range(200)]


def test_the_same_seed_draws_the_same_and_another_others():
    assert drawn(NAMES, 7, 50) == drawn(NAMES[::-1], 7, 50)
    assert set(drawn(NAMES, 7, 50)) != set(drawn(NAMES, 8, 50))
    assert len(set(drawn(NAMES, 7, 1000))) == 200


def test_the_quickest_tests_come_first_and_one_at_least():
    seconds = {"slow": 30.0, "quick": 0.1, "middling": 5.0}
    assert quickest(seconds, seconds, 20.0) == ["quick", "middling"]
    assert quickest(["slow"], seconds, 20.0) == ["slow"]


def test_what_came_of_the_changes_is_counted_by_folder():
    told = table({NAMES[0]: 1, NAMES[1]: 0, NAMES[2]: 33, NAMES[3]: -24})
    assert "| physics/neck | 4 | 1 | 1 | 1 | 1 | 0 | 50.0 % |" in told.splitlines()


@pytest.mark.parametrize("code", [-14, -9])
def test_a_change_that_the_clock_or_want_of_memory_ended_is_not_called_noticed(code):
    told = table({NAMES[0]: 1, NAMES[1]: code})
    assert "| physics/neck | 2 | 1 | 0 | 0 | 0 | 1 | 50.0 % |" in told.splitlines()


def test_what_a_run_that_ended_by_itself_said_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(mutants.sys, "executable", str(tmp_path / "python"))
    (tmp_path / "python").write_text("#!/bin/sh\necho nothing to change here\n", encoding="utf-8")
    (tmp_path / "python").chmod(0o755)
    with pytest.raises(SystemExit, match="nothing to change here"):
        mutants.learn_reach(tmp_path, tmp_path / "stats.json")


def test_a_change_is_named_by_its_file_and_function():
    assert place(NAMES[0]) == "physics/neck/gaps.py: relief_mm"
    assert (
        place("breakangle.storage.backup.keeper.xǁKeeperǁstop__mutmut_3")
        == "storage/backup/keeper.py: Keeper.stop"
    )


def test_the_tests_of_every_group_are_there():
    tests = [ROOT / path for _, paths in GROUPS.values() for path in paths]
    assert [str(path) for path in tests if not path.exists()] == []


def test_a_change_of_a_kind_that_changes_nothing_is_known_and_a_changed_sum_is_not():
    assert equal("| `a.py: f` | `- x = np.asarray(y, dtype=np.float64) / + x = np.asarray(y, dtype=None)` |")
    assert not equal("| `a.py: f` | `- return a + b / + return a - b` |")
