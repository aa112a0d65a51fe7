"""What a fleet meets in real folders: files of others, files nobody can read, names that are no text, half a line."""

import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as parquet
import pytest

from breakangle.cli.main import main
from breakangle.fleet.addresses import nobody_answers
from breakangle.fleet.dimension import steps_since
from breakangle.fleet.drift import drifts_of
from breakangle.fleet.engine import _no_workers
from breakangle.fleet.items import Item, items_of
from breakangle.fleet.keys import keys_in, make_keys
from breakangle.fleet.learned import rows_in
from breakangle.fleet.run import run
from breakangle.library.files import example_service, write_service
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError, InstallError
from breakangle.services.history.population import write_population
from breakangle.services.service_files.service import LARGEST_FILE_BYTES
from fleet_fixtures.deeds import count_and_die
from fleet_fixtures.here import Here

ONE = [Item("a.json", "0" * 64, b"x")]


@pytest.mark.parametrize("own", ["parts/order.txt", "results.parquet", "failures.parquet"])
def test_a_folder_that_holds_a_person_s_own_files_is_refused_and_left_as_it_was(tmp_path: Path, own: str):
    file = tmp_path / own
    file.parent.mkdir(exist_ok=True)
    file.write_text("mine")
    with pytest.raises(CorrectInputError, match="files that no run of a fleet made"):
        run("predict", ONE, tmp_path, Here(count_and_die))
    assert file.read_text() == "mine"
    assert not (tmp_path / "fleet.json").exists()


def test_what_a_person_lays_among_a_run_s_parts_stays(tmp_path: Path):
    run("predict", ONE, tmp_path, Here(count_and_die))
    note, folder = tmp_path / "parts" / "note.parquet", tmp_path / "parts" / "more"
    note.write_text("mine")
    folder.mkdir()
    assert run("predict", ONE, tmp_path, Here(count_and_die)).before == 1
    assert note.read_text() == "mine"
    assert folder.is_dir()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"trucks": 3}', '{"job": 1, "settings": 2, "program": 3}'])
def test_a_folder_whose_list_of_settings_is_no_fleet_s_is_refused(tmp_path: Path, text: str):
    (tmp_path / "fleet.json").write_text(text)
    with pytest.raises(CorrectInputError, match=r"fleet\.json is not a run's"):
        run("predict", ONE, tmp_path, Here(count_and_die))
    assert (tmp_path / "fleet.json").read_text() == text


def test_a_file_that_cannot_be_read_fails_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    for name in ("good.json", "shut.json"):
        write_service(tmp_path / name, example_service())
    opened = Path.open

    def guarded(path: Path, *asked: object, **more: object) -> object:
        if path.name == "shut.json":
            raise PermissionError(13, "Permission denied")
        return opened(path, *asked, **more)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", guarded)
    outcome = run("figures", items_of([tmp_path]), tmp_path / "out", Here())
    assert (outcome.total, outcome.failed) == (2, 1)
    [failed] = parquet.read_table(outcome.failures).to_pylist()
    assert failed["item"] == "shut.json"
    assert "cannot be read: permission denied" in failed["sentence"]
    with pytest.raises(ChooseAnotherFileError, match="permission denied"):
        items_of([tmp_path / "shut.json"])


def test_a_file_far_too_large_is_not_held_and_its_size_is_told(tmp_path: Path):
    with (tmp_path / "big.json").open("wb") as file:
        file.truncate(20 * LARGEST_FILE_BYTES)
    [item] = items_of([tmp_path])
    assert len(item.content) <= LARGEST_FILE_BYTES + 1
    outcome = run("plan", [item], tmp_path / "out", Here())
    [told] = parquet.read_table(outcome.failures).column("sentence").to_pylist()
    assert told.startswith("big.json is too large: more than 8 MB")


def test_a_name_that_is_no_text_is_written_as_its_bytes(tmp_path: Path):
    write_service(tmp_path / "a.json", example_service())
    (tmp_path / "a.json").rename(os.fsdecode(bytes(tmp_path) + b"/\xff.json"))
    outcome = run("figures", items_of([tmp_path]), tmp_path / "out", Here())
    assert set(parquet.read_table(outcome.results).column("item").to_pylist()) == {"\\xff.json"}


def test_the_answers_of_runs_are_no_instruments(tmp_path: Path):
    write_service(tmp_path / "a.json", example_service())
    run("figures", items_of([tmp_path]), tmp_path / "out", Here())
    assert [one.name for one in items_of([tmp_path])] == ["a.json"]


def test_files_of_one_name_in_two_folders_are_told_how_to_be_taken_together(tmp_path: Path):
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "x.json").write_text("{}")
    with pytest.raises(ChooseAnotherFileError, match="the folder that holds both"):
        items_of([tmp_path / "a", tmp_path / "b"])
    assert [one.name for one in items_of([tmp_path])] == ["a/x.json", "b/x.json"]


def test_a_parquet_set_may_be_a_folder_and_hold_bytes(tmp_path: Path):
    (tmp_path / "set.parquet").mkdir()
    for name in "ab":
        table = pa.table({"item": [name], "service": [b"{}"]})
        parquet.write_table(table, tmp_path / "set.parquet" / f"{name}.parquet")
    assert [(one.name, one.content) for one in items_of([tmp_path / "set.parquet"])] == [
        ("a", b"{}"),
        ("b", b"{}"),
    ]
    parquet.write_table(pa.table({"item": ["a"], "service": [7]}), tmp_path / "numbers.parquet")
    with pytest.raises(ChooseAnotherFileError, match="column service does not hold text"):
        items_of([tmp_path / "numbers.parquet"])


def line(names: list[str], moved: int) -> list[dict[str, object]]:
    """Return nut clearances, steady within a hundredth of a mm up to one instrument, 0.05 mm higher from it on."""
    values = [0.05 + (0.01 if n % 2 else -0.01) + (0.05 if n >= moved else 0.0) for n in range(len(names))]
    return [
        {"item": name, "figure": "nut clearance", "value": value, "wanted": 0.05, "unit": "mm"}
        for name, value in zip(names, values, strict=True)
    ]


def test_serial_numbers_are_in_the_order_of_their_numbers():
    """98, 99, 100 ... as letters 100 comes before 98."""
    names = [f"{n}.json" for n in range(85, 115)]
    as_tables_have_them = sorted(line(names, 21), key=lambda one: str(one["item"]))
    [nut] = drifts_of(as_tables_have_them)
    assert list(nut.items) == names
    assert nut.since == "106.json"
    step = steps_since([nut])["nut clearance"]
    assert step.value == pytest.approx(0.05, abs=0.003)


def test_a_quantity_of_few_instruments_keeps_no_other_from_its_chart():
    rows = line([f"{n:02d}" for n in range(30)], 30)
    few = [{**one, "figure": "relief"} for one in rows[:5]]
    assert [one.figure for one in drifts_of([*rows, *few])] == ["nut clearance"]
    with pytest.raises(CorrectInputError, match="of 5 instruments"):
        drifts_of(few)


@pytest.mark.parametrize(
    ("job", "option", "said"),
    [
        ("plan", ["--builds", "5"], "plan does not use --builds; simulate does"),
        ("figures", ["--hand", "light"], "figures does not use --hand; plan does"),
        ("predict", ["--strength", "light"], "predict does not use --strength; buzz and lowest do"),
        ("learn", ["--makes", "makes.csv"], "--makes without --taught"),
        ("plan", ["--makes", "makes.csv"], "--makes without --taught"),
    ],
)
def test_what_a_job_does_not_use_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], job: str, option: list[str], said: str
):
    (tmp_path / "a.json").write_text("{}")
    assert main(["fleet", job, str(tmp_path), "--out", str(tmp_path / "out"), *option]) == 2
    assert said in capsys.readouterr().err


def test_an_empty_name_for_a_folder_is_no_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ChooseAnotherFileError, match="no folder is named"):
        run("predict", ONE, "", Here(count_and_die))
    assert not list(tmp_path.iterdir())


def test_a_folder_of_another_job_teaches_nothing_and_says_why(tmp_path: Path):
    run("predict", ONE, tmp_path, Here(count_and_die))
    with pytest.raises(ChooseAnotherFileError, match="is not of the job learn"):
        rows_in(tmp_path)


def test_what_was_taught_before_stays_in_place_where_the_next_version_cannot_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    path = tmp_path / "taught.json"
    write_population(path, {})
    before = path.read_text()

    def full(*_: object, **__: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(ChooseAnotherFileError, match="no space left"):
        write_population(path, {})
    assert path.read_text() == before


def test_keys_that_nobody_would_answer_are_told_before_anybody_is_asked(tmp_path: Path):
    keys, other = make_keys(tmp_path / "keys"), make_keys(tmp_path / "other")
    with pytest.raises(ChooseAnotherFileError, match=r"ended on 20.*fleet-keys"):
        keys_in(tmp_path / "keys", datetime.now(UTC) + timedelta(days=400))
    with pytest.raises(ChooseAnotherFileError, match=r"begin on 20.*clock"):
        keys_in(tmp_path / "keys", datetime.now(UTC) - timedelta(days=3))
    for file in ("key", "certificate", "authority"):
        path = getattr(keys, file)
        right = path.read_bytes()
        for wrong in (b"rubbish", b"", getattr(other, file).read_bytes()):
            path.write_bytes(wrong)
            with pytest.raises(ChooseAnotherFileError, match="do not belong together"):
                keys_in(tmp_path / "keys")
        path.write_bytes(right)
    assert keys_in(tmp_path / "keys") == keys


def test_what_to_start_names_the_keys_it_needs(tmp_path: Path):
    """A worker or scheduler begun without them would be refused."""
    keys, address = make_keys(tmp_path / "keys"), "tls://bench.example:8786"
    for told in (_no_workers(address, keys), nobody_answers(address, keys, 10.0)):
        assert f"--keys {tmp_path / 'keys'}" in str(told)
    assert "--keys" not in str(_no_workers("tcp://127.0.0.1:8786", None))


def test_a_steady_line_is_told_so_and_what_is_left_out_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    rows = line([f"{n:02d}" for n in range(30)], 30)
    few = [{**one, "figure": "relief"} for one in rows[:5]]
    parquet.write_table(pa.Table.from_pylist([*rows, *few]), tmp_path / "results.parquet")
    assert main(["fleet-drift", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "standard deviation 0.01 mm, 0 outside three of them" in said
    assert "relief: 5 instruments; a chart says nothing before 20" in said
    assert "nothing has drifted" in said


def test_without_what_makes_certificates_it_is_said_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setitem(sys.modules, "cryptography.x509", None)
    with pytest.raises(InstallError, match=r"need cryptography.*pip install 'breakangle\[fleet\]'"):
        make_keys(tmp_path / "keys")
