"""Who asks a fleet is answered: in his language and unit, by workers of his version, in tasks of a fair size."""

import io
import re
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pyarrow.parquet as parquet
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle import __version__
from breakangle.cli.main import main, parser
from breakangle.cli.render.fleet_outcome import outcome_words
from breakangle.cli.render.fleet_progress import Teller
from breakangle.fleet.addresses import checked_address
from breakangle.fleet.batches import FIRST, MOST, TASK_S, Batches
from breakangle.fleet.engine import Engine
from breakangle.fleet.items import Item, in_order, items_of, listed_in
from breakangle.fleet.run import Progress, run
from breakangle.fleet.table import Answer
from breakangle.fleet.work import Asker, work, work_for
from breakangle.library.files import example_service
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError, InstallError
from breakangle.model.service_file import service_text
from breakangle.model.words.speech import language
from fleet_fixtures.deeds import count_and_die
from fleet_fixtures.here import Here
from made_up_language import made_up


def some(count: int) -> list[Item]:
    return [Item(f"item {n:04d}", f"{n:064x}", b"x") for n in range(count)]


def answered(batch: Sequence[Item], each_s: float) -> list[Answer]:
    return [Answer(one.name, one.sha256, each_s) for one in batch]


@settings(max_examples=60, deadline=None)
@given(count=st.integers(1, 2000), each_s=st.floats(1e-5, 20.0))
def test_batches_give_every_item_once_and_come_to_take_what_a_task_is_to_take(count: int, each_s: float):
    """Derived: a batch of n items that take t each takes n t; n is whole, so it is within half of one, and it at most
    doubles what was answered before: from 4 on, 4, 8, 24 and 72 are enough for any of less than 36."""
    items, found = some(count), list[Sequence[Item]]()
    batches = Batches(items)
    for batch in batches:
        found.append(batch)
        batches.heard(answered(batch, each_s))
    assert [one.name for batch in found for one in batch] == [one.name for one in items]
    assert len(found[0]) == min(count, FIRST)
    for batch in found[8:-1]:
        wanted = min(max(TASK_S / each_s, 1.0), MOST)
        assert len(batch) == pytest.approx(wanted, abs=0.51)


def test_a_size_that_is_asked_for_holds_and_a_slow_start_is_forgotten():
    assert [len(batch) for batch in Batches(some(10), 4)] == [4, 4, 2]
    batches = Batches(some(5000))
    sizes = []
    for place, batch in enumerate(batches):
        batches.heard(answered(batch, 0.5 if place == 0 else 0.01))
        sizes.append(len(batch))
    assert sizes[1] == 3
    assert sizes[20] == round(TASK_S / 0.01)


def test_a_list_names_files_from_a_file_or_a_pipe(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    for name in ("a.json", "b c.json"):
        (tmp_path / name).write_text("{}")
    text = f"{tmp_path / 'a.json'}\n\n{tmp_path / 'b c.json'}\n"
    (tmp_path / "list.txt").write_text(text)
    monkeypatch.setattr(sys, "stdin", io.StringIO(text))
    for named in (tmp_path / "list.txt", "-"):
        found = items_of(listed_in(named))
        assert [Path(one.name).name for one in found] == ["a.json", "b c.json"]
    with pytest.raises(ChooseAnotherFileError, match="cannot be read as a list"):
        listed_in(tmp_path / "none.txt")


def test_only_plans_take_what_others_taught(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    (tmp_path / "a.json").write_text("{}")
    asked = [str(tmp_path), "--out", str(tmp_path / "out"), "--taught", str(tmp_path / "none.json")]
    assert main(["fleet", "figures", *asked]) == 2
    assert "figures does not use what others taught; plan does" in capsys.readouterr().err
    assert main(["fleet", "plan", *asked]) == 2
    assert "cannot be read as what necks taught" in capsys.readouterr().err


def test_one_run_at_a_time_is_at_work_in_a_folder(tmp_path: Path):
    class Curious(Here):
        def answers(self, *asked: Any) -> Iterator[list[Answer]]:
            with pytest.raises(CorrectInputError, match="another run is at work in"):
                run("predict", some(3), tmp_path, Here(count_and_die))
            return super().answers(*asked)

    assert run("predict", some(3), tmp_path, Curious(count_and_die)).failed == 0
    assert run("predict", some(3), tmp_path, Here(count_and_die)).before == 3


def test_workers_answer_in_the_language_of_who_asks_and_such_answers_have_a_folder_of_their_own(
    tmp_path: Path,
):
    """The made-up language puts an accent on every vowel: `not` is `nót`."""
    bad, asked = [Item("bad.json", "0" * 64, b"{")], list[Any]()

    class Overheard(Engine):
        def each(self, call: Any, tasks: Any, *_: Any) -> Iterator[Any]:
            asked.extend(call(task) for task in tasks)
            return iter(())

    with made_up(tmp_path / "locale") as locale, language(locale):
        list(Overheard(lambda: None).answers("plan", iter([bad]), {}))
        outcome = run("plan", bad, tmp_path / "out", Here())
        [told] = parquet.read_table(outcome.failures).column("sentence").to_pylist()
    ((does, items, settings),) = asked
    with made_up(tmp_path / "worker"):
        [answer] = does(items, settings)
        assert answer.sentence == told
        assert "nót" in told
    assert "not" in work("plan", bad, {})[0].sentence
    with pytest.raises(CorrectInputError, match=f"in the language {locale}"):
        run("plan", bad, tmp_path / "out", Here())


def test_a_worker_of_another_version_says_so_and_does_nothing():
    ours = Asker(__version__, "en")
    assert len(work_for(ours, count_and_die, "predict", some(2), {})) == 2
    with pytest.raises(InstallError, match=rf"version {__version__} .*; this is version 9\.9"):
        work_for(Asker("9.9", "en"), count_and_die, "predict", some(2), {})


def test_a_log_gets_a_line_now_and_then_and_a_screen_one_that_changes(monkeypatch: pytest.MonkeyPatch):
    said = io.StringIO()
    monkeypatch.setattr(sys, "stderr", said)
    half = Progress(50, 100, 1, 12.5, 4.0)
    often, seldom = Teller(every_s=0.0), Teller()
    seldom(half)
    assert said.getvalue() == ""
    often(half)
    often(half)
    line = "50 of 100, 1 failed, 12.5 a second, about 4 s left"
    assert said.getvalue() == f"{line}\n{line}\n"
    said.isatty = lambda: True  # type: ignore[method-assign]
    seldom(half)
    assert said.getvalue().endswith(f"\r{line}   ")


def test_what_a_run_came_to_names_verdicts_hours_and_the_first_failures(tmp_path: Path):
    good = [
        Item(kind, "0" * 64, service_text(example_service(kind)).encode())
        for kind in ("electric-guitar", "mandolin")
    ]
    bad = [Item(f"spoiled {n:02d}.json", f"{n:064x}", b'{"format": "x') for n in range(13)]
    outcome = run("plan", in_order([*good, *bad]), tmp_path / "out", Here())
    done, verdicts, results, failures, *told = outcome_words(outcome)
    assert done.startswith("15 items: 2 done, 13 failed; 0 done before; ")
    rows = parquet.read_table(outcome.results).to_pylist()
    hours = sum(row["minutes"] for row in rows) / 60
    counted = Counter(row["verdict"] for row in rows)
    told_counts = dict(re.findall(r"([a-z-]+) (\d+)", verdicts.partition(";")[0]))
    assert told_counts == {verdict: str(count) for verdict, count in counted.items()}
    assert verdicts.endswith(f"; {hours:.1f} h at the bench in all")
    assert (results, failures) == (str(outcome.results), str(outcome.failures))
    first = "  spoiled 00.json is not JSON: unterminated string at line 1, column 12; name another file."
    assert (told[0], len(told), told[-1]) == (first, 11, "  and 3 more")
    assert len(outcome_words(run("plan", in_order(good), tmp_path / "good", Here()))) == 3
    assert len(outcome_words(run("figures", in_order(good), tmp_path / "figures", Here()))) == 2


def test_a_cluster_s_file_in_the_docs_calls_verbs_as_they_are_and_never_without_certificates():
    page = (Path(__file__).parents[3] / "docs" / "fleet.md").read_text(encoding="utf-8")
    before, _, rest = page.partition("```yaml\n")
    spec = rest.partition("```")[0]
    called = [line.replace('"', "").replace(",", " ").split() for line in re.findall(r"args: \[(.*)\]", spec)]
    assert [program for program, *_ in called] == ["breakangle"] * 2
    worker, scheduler = (parser().parse_args(words) for _, *words in called)
    assert (worker.verb, scheduler.verb) == ("fleet-worker", "fleet-scheduler")
    for asked, address in ((worker, worker.address), (scheduler, scheduler.listen)):
        with pytest.raises(CorrectInputError, match="certificates"):
            checked_address(address, None)
        assert spec.count(f"mountPath: {asked.keys}, readOnly: true") == 2
    [secret] = set(re.findall(r"secretName: (\S+),", spec))
    assert f"create secret generic {secret} --from-file keys" in before
