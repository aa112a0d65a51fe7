"""Work in processes of its own: what takes too much ends that process alone; too many are told who is ahead."""

import os
import re
import signal
import threading
import time
from collections.abc import Iterator
from io import BytesIO

import httpx2 as httpx
import numpy as np
import pytest
import soundfile
from PIL import Image

from breakangle.model.errors import BusyError, ChooseAnotherFileError, CorrectInputError
from breakangle.model.small_picture import small_picture
from breakangle.services.workers.process import in_process
from breakangle.services.workers.queue import PLANS, Queue

pytest_plugins = ["web_fixtures.at_hand", "web_fixtures.served"]


def doubled(number: int) -> int:
    return 2 * number


def take_memory(megabytes: int) -> int:
    return len(bytearray(megabytes << 20))


def complain() -> None:
    raise CorrectInputError("7 strings", "4 to 6", "count again")


def crash() -> None:
    os.kill(os.getpid(), signal.SIGSEGV)


def test_work_comes_back_and_its_errors_keep_their_three_parts():
    assert in_process(doubled, (21,), 100, 30.0) == 42
    with pytest.raises(CorrectInputError) as error:
        in_process(complain, (), 100, 30.0)
    assert (error.value.given, error.value.possible, error.value.remedy) == (
        "7 strings",
        "4 to 6",
        "count again",
    )


def niceness() -> int:
    return os.nice(0)


def test_pages_come_before_work_unless_others_wait_for_it():
    assert in_process(niceness, (), 100, 30.0) == min(19, niceness() + 5)
    assert in_process(niceness, (), 100, 30.0, gentle=False) == niceness()


def test_memory_beyond_the_limit_is_one_sentence():
    assert in_process(take_memory, (50,), 200, 30.0) == 50 << 20
    with pytest.raises(ChooseAnotherFileError, match="more than 200 MB of memory"):
        in_process(take_memory, (900,), 200, 30.0)


def test_work_that_never_ends_or_crashes_is_one_sentence():
    began = time.monotonic()
    with pytest.raises(ChooseAnotherFileError, match="longer than 1 s"):
        in_process(time.sleep, (60,), 100, 1.0)
    assert time.monotonic() - began < 15.0
    with pytest.raises(ChooseAnotherFileError, match="broke off"):
        in_process(crash, (), 100, 30.0)


def test_those_beyond_the_queue_are_told_how_many_are_ahead():
    queue = Queue("pictures", at_once=1, waiting=2, most_mb=100, longest_s=10.0, usual_s=4.0)
    go, results = threading.Event(), list[bool]()
    threads = [threading.Thread(target=lambda: results.append(queue.run(go.wait, 30))) for _ in range(3)]
    for thread in threads:
        thread.start()
    while queue._count < 3:
        time.sleep(0.01)
    with pytest.raises(BusyError, match="busy with pictures, 3 ahead; nothing was stored; try again in 12 s"):
        queue.run(doubled, 1)
    go.set()
    for thread in threads:
        thread.join()
    assert (results, queue.run(doubled, 1)) == ([True] * 3, 2)


def test_turn_held_already_needs_no_other_and_comes_back_after_an_error():
    queue = Queue("papers", at_once=1, waiting=0, most_mb=100, longest_s=10.0, usual_s=1.0)
    with queue.turn():
        assert queue.run(doubled, 2) == 4
    with pytest.raises(CorrectInputError):
        queue.run(complain)
    assert queue.run(doubled, 3) == 6


def test_busy_bench_answers_503_and_when_to_come_back(first_sheet, monkeypatch):
    from breakangle.web.pages.sheet import sheet

    full = Queue("pictures", at_once=0, waiting=0, most_mb=1, longest_s=1.0, usual_s=1.0)
    full.at_once, full.waiting = 1, -1
    monkeypatch.setattr(sheet, "PICTURES", full)
    answer = first_sheet.post("/visits/1/photographs", files={"photographs": ("a.png", picture("PNG", 8, 8))})
    assert answer.status_code == 503
    assert int(answer.headers["retry-after"]) >= 1
    assert "busy with pictures, 0 ahead" in answer.text


def test_a_reading_is_stored_and_said_to_be_where_too_many_wait_for_plans(first_sheet, monkeypatch):
    """What is expected is left out then; a page, which stores nothing, says how many are ahead."""
    first_sheet.get("/visits/1/readings")  # what was believed before is known from here on
    monkeypatch.setattr(PLANS, "waiting", -PLANS.at_once)
    box = {"box": "gap_5_9_h1", "text": "1.87 mm"}
    stored = first_sheet.post("/visits/1/readings/one", data=box)
    assert stored.status_code == 200
    assert "1.87" in stored.text
    undone = first_sheet.post("/visits/1/readings/undo", data={"entry": stored.headers["x-entry"]})
    assert undone.status_code == 200
    page = first_sheet.get("/visits/1/plan")
    assert page.status_code == 503
    assert "busy with plans, 0 ahead" in page.text
    monkeypatch.undo()
    assert "1.87" in first_sheet.get("/visits/1/entries").text


def picture(form: str, wide: int, tall: int, mode: str = "RGB", **more: object) -> bytes:
    out = BytesIO()
    Image.new(mode, (wide, tall), 120 if mode in ("L", "P") else (120,) * len(mode)).save(out, form, **more)
    return out.getvalue()


@pytest.mark.parametrize(
    ("form", "mode"),
    [("JPEG", "RGB"), ("JPEG", "CMYK"), ("PNG", "RGBA"), ("PNG", "P"), ("GIF", "P"), ("TIFF", "L"), ("BMP", "RGB"),
     ("WEBP", "RGB")],
)  # fmt: skip
def test_picture_of_every_format_is_made_small(form, mode):
    small = small_picture(picture(form, 3000, 2000, mode), 320)
    assert (small.mode, small.size) == ("RGB", (320, 213))


def test_photograph_taken_sideways_stands_upright():
    """Orientation 6: the camera was turned; the row of the file is a column of the picture (Exif 2.3, table 4.6.4)."""
    exif = Image.Exif()
    exif[0x0112] = 6
    assert small_picture(picture("JPEG", 3000, 2000, exif=exif), 320).size == (213, 320)


@pytest.fixture
def eighty_megapixels() -> Iterator[dict[str, bytes]]:
    yield {"JPEG": picture("JPEG", 10_000, 8_000), "PNG": picture("PNG", 10_000, 8_000, compress_level=1)}


def test_photograph_of_80_megapixels_takes_little_memory(eighty_megapixels):
    """Read whole it takes 320 MB (4 bytes a pixel: Pillow's RGB), and as much again for each copy of it."""
    assert in_process(size_of_small, (eighty_megapixels["JPEG"],), 100, 60.0) == (320, 256)
    assert in_process(size_of_small, (eighty_megapixels["PNG"],), 420, 60.0) == (320, 256)
    with pytest.raises(ChooseAnotherFileError, match="9000 × 9000 pixels; at most 80 million"):
        small_picture(picture("PNG", 9000, 9000, "L"), 320)


def size_of_small(content: bytes) -> tuple[int, int]:
    return small_picture(content, 320).size


def test_served_bench_hears_prints_and_shrinks_in_processes_of_its_own(served):
    """The whole way by the server: a large photograph, a recording of a plucked string, and the owner's sheet."""
    base = f"{served.url}/example"
    big = picture("JPEG", 6000, 4000)
    with httpx.Client(timeout=60.0, follow_redirects=True) as client:
        sheet = client.post(f"{base}/visits/27/photographs", files={"photographs": ("neck.jpg", big)})
        assert sheet.status_code == 200
        key = re.findall(r"/attachments/(\w+)/small", sheet.text)[-1]
        small = client.get(f"{base}/attachments/{key}/small")
        assert Image.open(BytesIO(small.content)).size == (320, 213)
        paper = client.get(f"{base}/visits/27/paper/hand-back.pdf")
        assert paper.content.startswith(b"%PDF-")
        heard = client.post(f"{base}/visits/27/recordings", files={"recordings": ("tone.wav", tone())})
        assert heard.status_code == 200
        assert heard.url.path.endswith("/listen/recordings")
        bad = client.post(
            f"{base}/visits/27/recordings", files={"recordings": ("noise.wav", b"RIFF nothing")}
        )
        assert bad.status_code == 422
        assert "Noise.wav is no sound file" in bad.text


def tone() -> bytes:
    """Return two seconds of a decaying A (110 Hz) with its octaves, as a recording."""
    rate = 44_100
    at_s = np.arange(2 * rate) / rate
    sound = sum(np.sin(2 * np.pi * 110.0 * n * at_s) / n for n in range(1, 6)) * np.exp(-1.5 * at_s)
    out = BytesIO()
    soundfile.write(out, 0.2 * sound, rate, format="WAV", subtype="PCM_16")
    return out.getvalue()
