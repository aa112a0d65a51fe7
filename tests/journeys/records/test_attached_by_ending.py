"""What may be attached is told by the ending of its name, on every computer alike; and stored where no folder syncs."""

import mimetypes
import os
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PIL import Image

from breakangle.listening.capture.decode import POSSIBLE
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.services.workshop.attachments import MEDIA, attach, content_of
from breakangle.services.workshop.opening import shop_at
from breakangle.storage.files import blobs
from shop_fixtures.filled import fill
from shop_fixtures.people import ADA

# Endings of the formats that libsndfile names (its documentation, "supported formats") and of what phones record.
SOUNDS = [
    "wav",
    "flac",
    "mp3",
    "ogg",
    "opus",
    "aiff",
    "aif",
    "caf",
    "au",
    "w64",
    "m4a",
    "3gp",
    "webm",
    "amr",
    "mp4",
]
PICTURES = {
    "jpg": "JPEG",
    "jpeg": "JPEG",
    "png": "PNG",
    "gif": "GIF",
    "webp": "WEBP",
    "bmp": "BMP",
    "tif": "TIFF",
}


@pytest.fixture
def bench(tmp_path: Path, monkeypatch):
    """Return a shop and a visit on a computer that has no table of media types."""
    monkeypatch.setattr(mimetypes, "guess_type", lambda *_, **__: (None, None))
    shop = shop_at(tmp_path / "shop")
    yield shop, fill(shop)
    shop.close()


@pytest.mark.parametrize("ending", SOUNDS)
def test_every_sound_that_can_be_heard_can_be_attached(bench, ending):
    shop, visit = bench
    stored = attach(shop, ADA, visit, "recording", f"Low E.{ending.upper()}", ending.encode())
    assert stored.media_type.split("/")[0] in ("audio", "video")
    assert content_of(shop, stored) == ending.encode()


def test_what_is_said_to_be_readable_is_taken():
    said = [one.strip(" ,") for one in POSSIBLE.replace(" and ", ", ").split() if one.strip(",").isalnum()]
    named = {one for one in said if f".{one}" in MEDIA["recording"]}
    assert named >= {"wav", "flac", "mp3", "ogg", "opus", "aiff", "caf", "m4a", "3gp", "webm", "amr"}


@pytest.mark.parametrize("ending", PICTURES)
def test_every_photograph_that_can_be_shown_can_be_attached(bench, ending):
    shop, visit = bench
    out = BytesIO()
    Image.new("RGB", (40, 30), (90, 60, 20)).save(out, PICTURES[ending])
    stored = attach(shop, ADA, visit, "photograph", f"front.{ending}", out.getvalue())
    assert stored.media_type.startswith("image/")


def test_a_recording_in_caf_is_kept_as_it_came(bench):
    shop, visit = bench
    out = BytesIO()
    soundfile.write(out, np.zeros(480), 48000, format="CAF", subtype="PCM_16")
    assert content_of(shop, attach(shop, ADA, visit, "recording", "t.caf", out.getvalue())) == out.getvalue()


@pytest.mark.parametrize(("kind", "name"), [
    ("photograph", "low.wav"), ("recording", "front.png"), ("recording", "notes"), ("photograph", "page.svg"),
    ("recording", ".wav"), ("video", "a.mp4"),
])  # fmt: skip
def test_what_is_none_by_its_name_is_told_what_is(bench, kind, name):
    shop, visit = bench
    with pytest.raises(ChooseAnotherFileError, match="by its name") as told:
        attach(shop, ADA, visit, kind, name, b"content")
    assert told.value.possible


def test_a_file_is_stored_where_no_folder_can_be_opened(bench, monkeypatch):
    """As on Windows, where opening a folder is refused (Microsoft, CreateFile, remarks on directories)."""
    shop, visit = bench
    opened = os.open

    def refused(path, *given, **named):
        if Path(path).is_dir():
            raise PermissionError(13, "Permission denied")
        return opened(path, *given, **named)

    monkeypatch.setattr(os, "open", refused)
    monkeypatch.setattr(blobs, "FOLDER_CAN_BE_SYNCED", False)
    stored = attach(shop, ADA, visit, "recording", "low.wav", b"a sound")
    assert content_of(shop, stored) == b"a sound"
