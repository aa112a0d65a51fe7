"""A fleet's folder of answers: nothing twice, nothing lost, the same table whichever way it came together."""

import pickle
from pathlib import Path

import pyarrow.parquet as parquet
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakangle.fleet.addresses import checked_address, is_loopback
from breakangle.fleet.items import Item, in_order, items_of
from breakangle.fleet.jobs import job_named, job_names
from breakangle.fleet.keys import keys_in, make_keys
from breakangle.fleet.run import Progress, run
from breakangle.fleet.table import columns_of, schema_of, type_of
from breakangle.library.files import example_service, write_service
from breakangle.model.errors import ChooseAnotherFileError, CorrectInputError
from breakangle.services.service_files.example import example_text
from fleet_fixtures.deeds import count_and_die
from fleet_fixtures.here import BrokenOffError, Here


def some(count: int) -> list[Item]:
    return in_order(Item(f"item {n:03d}", f"{n:064x}", b"x" * (n % 7)) for n in range(count))


def bytes_of(folder: Path) -> bytes:
    return (folder / "results.parquet").read_bytes()


@settings(max_examples=25, deadline=None)
@given(count=st.integers(1, 40), size=st.integers(1, 9), broken=st.integers(0, 8), backwards=st.booleans())
def test_a_run_broken_off_anywhere_goes_on_and_ends_in_the_same_bytes(
    tmp_path_factory: pytest.TempPathFactory, count: int, size: int, broken: int, backwards: bool
):
    folder, items = tmp_path_factory.mktemp("fleet"), some(count)
    run("predict", items, folder / "whole", Here(count_and_die), batch=16)
    first = Here(count_and_die, backwards, broken)
    try:
        run("predict", items, folder / "parts", first, batch=size)
        whole = True
    except BrokenOffError:
        whole = False
    second = Here(count_and_die)
    outcome = run("predict", items, folder / "parts", second, batch=3)
    assert sorted(first.done + second.done) == [one.name for one in items]
    assert not (whole and second.done)
    assert outcome.before == len(first.done)
    assert bytes_of(folder / "parts") == bytes_of(folder / "whole")


def test_a_part_whose_list_is_missing_is_done_again(tmp_path: Path):
    items = some(6)
    run("predict", items, tmp_path, Here(count_and_die), batch=2)
    before = bytes_of(tmp_path)
    next((tmp_path / "parts").glob("*.done.parquet")).unlink()
    again = Here(count_and_die)
    run("predict", items, tmp_path, again, batch=2)
    assert len(again.done) == 2
    assert bytes_of(tmp_path) == before


def test_what_has_changed_is_done_again_and_what_has_gone_leaves_the_table(tmp_path: Path):
    items = some(5)
    run("predict", items, tmp_path, Here(count_and_die))
    changed = [Item(items[2].name, "f" * 64, b"other"), *items[3:]]
    engine = Here(count_and_die)
    run("predict", changed, tmp_path, engine)
    assert engine.done == [items[2].name]
    rows = parquet.read_table(tmp_path / "results.parquet").to_pylist()
    assert [row["item"] for row in rows] == [one.name for one in changed]
    assert rows[0]["clearance_mm"] == len(b"other")


def test_one_bad_file_is_told_and_stops_none_of_the_rest(tmp_path: Path):
    write_service(tmp_path / "good.json", example_service())
    (tmp_path / "bad.json").write_text('{"format": ')
    (tmp_path / "deep").mkdir()
    write_service(tmp_path / "deep" / "good too.json", example_service("bass-four"))
    outcome = run("plan", items_of([tmp_path]), tmp_path / "out", Here())
    assert (outcome.total, outcome.failed) == (3, 1)
    failed = parquet.read_table(outcome.failures).to_pylist()
    assert [row["item"] for row in failed] == ["bad.json"]
    assert "not JSON" in failed[0]["sentence"]
    rows = parquet.read_table(outcome.results).to_pylist()
    assert [row["item"] for row in rows] == ["deep/good too.json", "good.json"]
    assert rows[1]["steps"][0]["adjust"] == "rod"


def test_failures_stay_until_they_are_to_be_tried_again(tmp_path: Path):
    (tmp_path / "bad.json").write_text("{")
    items = items_of([tmp_path])
    run("predict", items, tmp_path / "out", Here())
    assert run("predict", items, tmp_path / "out", engine := Here()).failed == 1
    assert engine.done == []
    assert run("predict", items, tmp_path / "out", engine := Here(), failed_again=True).failed == 1
    assert engine.done == ["bad.json"]


def test_another_job_or_other_settings_are_refused_in_the_same_folder(tmp_path: Path):
    run("predict", some(1), tmp_path, Here(count_and_die))
    with pytest.raises(CorrectInputError, match="holds answers of predict"):
        run("lowest", some(1), tmp_path, Here())
    with pytest.raises(CorrectInputError, match="strength heavy"):
        run("predict", some(1), tmp_path, Here(), settings={"strength": "heavy"})


def test_progress_tells_rate_and_time_left(tmp_path: Path):
    heard: list[Progress] = []
    run("predict", some(10), tmp_path, Here(count_and_die), batch=4, told=heard.append)
    assert [one.done for one in heard] == [4, 8, 10]
    assert heard[-1].left_s == 0.0
    assert all(one.rate_per_s > 0 for one in heard)


def test_an_item_is_small_where_it_waits_and_whole_where_it_is_done():
    """Derived: service files are text that repeats itself; a quarter of their size is easily held."""
    content = example_text().encode()
    one = Item("a", "b", content)
    sent = pickle.dumps(one)
    assert len(sent) < len(content) / 4 + 200
    assert pickle.loads(sent) == one
    assert pickle.loads(sent).content == content
    assert Item("a", "b").content == b""


def test_items_of_one_name_are_refused(tmp_path: Path):
    path = tmp_path / "a.json"
    path.write_text("{}")
    with pytest.raises(ChooseAnotherFileError, match="named twice"):
        items_of([path, path])
    with pytest.raises(ChooseAnotherFileError, match="nothing to work on"):
        items_of([tmp_path], (".wav",))


def test_a_parquet_set_gives_its_rows_and_one_without_the_columns_is_refused(tmp_path: Path):
    import pyarrow as pa

    text = '{"format": "none"}'
    parquet.write_table(pa.table({"item": ["b", "a"], "service": [text, text]}), tmp_path / "set.parquet")
    assert [(one.name, one.content) for one in items_of([tmp_path / "set.parquet"])] == [
        ("a", text.encode()),
        ("b", text.encode()),
    ]
    parquet.write_table(pa.table({"item": ["b"]}), tmp_path / "lacks.parquet")
    with pytest.raises(ChooseAnotherFileError, match="no column service"):
        items_of([tmp_path / "lacks.parquet"])
    (tmp_path / "none.parquet").write_bytes(b"PAR1 not really")
    with pytest.raises(ChooseAnotherFileError, match="not a Parquet file"):
        items_of([tmp_path / "none.parquet"])


@pytest.mark.parametrize("name", job_names())
def test_every_job_says_what_its_columns_mean(name: str):
    assert job_named(name).WORDS
    schema = schema_of(columns_of(name))
    assert all(field.metadata[b"meaning"] for field in schema)
    assert len(set(schema.names)) == len(schema.names)


def test_arrow_types_are_written_as_arrow_writes_them():
    for text in ("string", "int32", "double", "list<string>", "list<struct<a: string, b: double>>"):
        assert str(type_of(text)).replace("item: ", "") == text


@pytest.mark.parametrize("host", ["127.0.0.1", "127.9.9.9", "::1", "localhost"])
def test_this_machine_alone_needs_no_certificates(host: str):
    assert is_loopback(host)
    shown = f"[{host}]" if ":" in host else host
    assert checked_address(f"tcp://{shown}:8786", None)


@pytest.mark.parametrize(
    "host", ["10.0.0.4", "0.0.0.0", "bench.example", "192.168.1.9", "[::]", "localhost.example"]
)
def test_any_other_address_is_refused_without_tls_and_certificates(host: str, tmp_path: Path):
    for scheme in ("tcp", "tls"):
        with pytest.raises(CorrectInputError, match="fleet-keys"):
            checked_address(f"{scheme}://{host}:8786", None)
    keys = make_keys(tmp_path / "keys")
    with pytest.raises(CorrectInputError, match="not encrypted"):
        checked_address(f"tcp://{host}:8786", keys)
    assert checked_address(f"tls://{host}:8786", keys)


@pytest.mark.parametrize(
    "address", ["", "bench", "http://127.0.0.1:1", "tcp://127.0.0.1", "tcp://:8786", "tcp://127.0.0.1:x"]
)
def test_what_is_no_address_is_told_so(address: str):
    with pytest.raises(CorrectInputError, match="not a scheduler's address"):
        checked_address(address, None)


def test_keys_are_secret_and_never_written_over(tmp_path: Path):
    keys = make_keys(tmp_path / "keys")
    assert keys.key.stat().st_mode & 0o077 == 0
    assert keys_in(tmp_path / "keys") == keys
    with pytest.raises(ChooseAnotherFileError, match="has keys already"):
        make_keys(tmp_path / "keys")
    keys.certificate.unlink()
    with pytest.raises(ChooseAnotherFileError, match=r"no fleet\.crt"):
        keys_in(tmp_path / "keys")
