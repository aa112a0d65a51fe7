"""Files that are no service files at all: one clear sentence, exit code 2, nothing written."""

import io
import json
import os
import resource
import time

import pytest

from breakangle.cli.main import main
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.service_files.service import read_service
from service_files import full_service

FULL = full_service()
GOOD = json.dumps(FULL).encode()


def refused(capsys, *words: str) -> str:
    code = main(words)
    out, err = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert err.startswith("breakangle: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    return err


FORMS = {
    "empty": (b"", "is not JSON: it is empty"),
    "blank": (b" \n\t ", "is not JSON: it is empty"),
    "prose": (b"relief 0.3, action 1.5", "is not JSON: expecting value at line 1, column 1"),
    "cut off": (GOOD[:200], "is not JSON:"),
    "two objects": (GOOD + GOOD, "is not JSON: extra data at line 1"),
    "single quotes": (b"{'format': 1}", "is not JSON:"),
    "trailing comma": (b'{"format": "breakangle/service/1",}', "is not JSON:"),
    "comment": (b"// a service\n" + GOOD, "is not JSON:"),
    "binary": (bytes(range(256)) * 40, "is not text in UTF-8"),
    "zeros": (b"\0" * 5000, "is not JSON:"),
    "picture": (b"\x89PNG\r\n\x1a\n" + b"\0" * 100, "is not text in UTF-8"),
    "UTF-16": (GOOD.decode().encode("utf-16"), "is not text in UTF-8"),
    "Latin letters": (json.dumps({"n": "Åse"}, ensure_ascii=False).encode("latin-1"), "is not text in UTF-8"),
    "a list": (b"[1, 2]", "$ is [1, 2]; a service file is one JSON object"),
    "a number": (b"3", "$ is 3; a service file is one JSON object"),
    "null": (b"null", "$ is null; a service file is one JSON object"),
    "NaN": (b"NaN", "$ is NaN; a service file is one JSON object"),
    "empty object": (b"{}", "$.format is missing"),
    "a plan": (b'{"format": "breakangle/plan/1"}', '$.format is "breakangle/plan/1"'),
    "a later version": (
        json.dumps(FULL | {"format": "breakangle/service/3"}).encode(),
        "one that knows service/3, reads it",
    ),
    "deep": (b"[" * 100_000 + b"]" * 100_000, "is nested too deep"),
    "deep enough to parse": (b'{"a":' * 600 + b"1" + b"}" * 600, "is nested too deep"),
    "deep inside": (GOOD[:-1] + b', "extra": ' + b"[" * 60 + b"]" * 60 + b"}", "is nested too deep"),
    "key twice": (GOOD[:-1] + b', "work": []}', "$.work stands twice in one object"),
    "key twice inside": (
        GOOD.replace(b'"frets": 22', b'"frets": 22, "frets": 24'),
        "$.instrument.frets stands twice in one object",
    ),
    "endless number in an unknown key": (GOOD[:-1] + b', "mine": [1, 1e999]}', "$.mine[1] is Infinity"),
    "not-a-number in an unknown key": (GOOD[:-1] + b', "mine": {"a": NaN}}', "$.mine.a is NaN"),
    "half a character": (GOOD[:-1] + b', "mine": "\\ud800"}', "$.mine is"),
    "half a character in a key": (GOOD[:-1] + b', "\\ud800": 1}', "must be whole characters"),
}


@pytest.mark.parametrize("name", FORMS)
def test_what_is_no_service_file_is_refused(name, capsys, tmp_path):
    content, said = FORMS[name]
    file = tmp_path / "service.json"
    file.write_bytes(content)
    assert said in refused(capsys, "plan", str(file))
    assert [one.name for one in tmp_path.iterdir()] == ["service.json"]
    assert file.read_bytes() == content


def test_a_byte_order_mark_is_no_fault(capsys, tmp_path):
    file = tmp_path / "service.json"
    file.write_bytes(b"\xef\xbb\xbf" + GOOD)
    assert main(["check", str(file)]) == 0
    assert "valid" in capsys.readouterr().out


def test_a_file_of_100_mb_is_refused_without_reading_it(capsys, tmp_path):
    file = tmp_path / "service.json"
    with file.open("wb") as out:
        out.truncate(100_000_000)
    before, start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.perf_counter()
    assert "is too large: 100 MB; a service file has at most 8 MB" in refused(capsys, "plan", str(file))
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 50_000  # kB
    assert time.perf_counter() - start < 5.0


def test_a_device_without_an_end_is_refused(capsys):
    assert "is too large" in refused(capsys, "plan", "/dev/zero")


def test_places_that_cannot_be_read_are_named(capsys, tmp_path):
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    file = tmp_path / "service.json"
    file.write_bytes(GOOD)
    assert "missing.json cannot be read: no such file" in refused(
        capsys, "plan", str(tmp_path / "missing.json")
    )
    assert "cannot be read: is a directory" in refused(capsys, "plan", str(tmp_path))
    assert "cannot be read: not a directory" in refused(capsys, "plan", str(file / "inside"))
    assert "cannot be read: too many levels" in refused(capsys, "plan", str(loop))
    assert "cannot be read: file name too long" in refused(capsys, "plan", "x" * 5000)


def test_a_file_without_permission_is_named(tmp_path):
    file = tmp_path / "service.json"
    file.write_bytes(GOOD)
    assert read_service(file).instrument.name  # everything that is imported is imported now
    file.chmod(0)
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)  # root may read everything, so ask as nobody
    try:
        with pytest.raises(ChooseAnotherFileError, match="cannot be read: permission denied"):
            read_service(file)
    finally:
        if root:
            os.seteuid(0)


def test_a_path_with_odd_characters_stays_on_one_line(capsys, tmp_path):
    assert "cannot be read" in refused(capsys, "plan", str(tmp_path / "two\nlines\x1b[31m.json"))


def test_a_pipe_is_read_and_refused_alike(capsys, monkeypatch):
    class Pipe:
        buffer = io.BytesIO(b"not a service")

    monkeypatch.setattr("sys.stdin", Pipe)
    assert "standard input is not JSON" in refused(capsys, "plan", "-")


def test_unknown_keys_are_kept_and_reported(capsys, tmp_path):
    from breakangle.services.service_files.service import read_service, unknown
    from breakangle.services.service_files.service_written import write_service

    data = json.loads(GOOD)
    data["shop"] = {"note": "Åse", "tray": 4}
    data["instrument"]["colour"] = "green"
    data["readings"][0]["gauge no."] = 7
    file = tmp_path / "service.json"
    file.write_text(json.dumps(data))
    assert main(["check", str(file)]) == 0
    out = capsys.readouterr().out
    for path in ("$.shop", "$.instrument.colour", '$.readings[0]["gauge no."]'):
        assert f"{path}: not understood; kept as it came." in out
    service = read_service(file)
    assert len(unknown(service)) == 3
    write_service(tmp_path / "again.json", service)
    assert json.loads((tmp_path / "again.json").read_text()) == data


def test_writing_where_it_cannot_be_written_leaves_nothing(tmp_path):
    from breakangle.model.errors import ChooseAnotherFileError
    from breakangle.services.service_files.service import service_from
    from breakangle.services.service_files.service_written import write_service

    service = service_from(GOOD, "here")
    with pytest.raises(ChooseAnotherFileError, match="cannot be written: no such file"):
        write_service(tmp_path / "no" / "where.json", service)
    folder = tmp_path / "folder"
    folder.mkdir()
    with pytest.raises(ChooseAnotherFileError, match="cannot be written: is a directory"):
        write_service(folder, service)
    assert [one.name for one in tmp_path.iterdir()] == ["folder"]
    assert list(folder.iterdir()) == []


def test_a_write_that_fails_half_way_leaves_the_old_file(tmp_path, monkeypatch):
    from breakangle.model.errors import ChooseAnotherFileError
    from breakangle.services.service_files import service_written
    from breakangle.services.service_files.service import service_from

    file = tmp_path / "service.json"
    file.write_bytes(GOOD)

    def full(descriptor: int) -> None:
        del descriptor
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(service_written.os, "fsync", full)
    with pytest.raises(ChooseAnotherFileError, match="no space left on device"):
        service_written.write_service(file, service_from(GOOD, "here"))
    assert file.read_bytes() == GOOD
    assert [one.name for one in tmp_path.iterdir()] == ["service.json"]
