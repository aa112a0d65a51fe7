"""What is given up halfway, garbage pictures, and files that other accounts must not read."""

import random
import socket
import stat
import time
import urllib.request
import warnings
from io import BytesIO

import pytest
from PIL import Image

from breakangle.documents.renderers.pictures import photograph_svg, picture_svg
from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.small_picture import small_picture
from breakangle.services.workshop.opening import shop_at
from shop_fixtures.filled import fill
from web_fixtures.process import Served

FORMS = (
    "JPEG",
    "PNG",
    "GIF",
    "TIFF",
    "BMP",
    "WEBP",
    "ICO",
    "PPM",
    "TGA",
    "PCX",
    "SGI",
    "JPEG2000",
    "DDS",
)


def test_forms_and_uploads_given_up_leave_no_traceback(tmp_path):
    served = Served(tmp_path / "shop", log=tmp_path / "log")
    served.start()
    head = "POST {} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nContent-Type: {}\r\nContent-Length: {}\r\n\r\n"
    sent = (
        ("/visits/new", "application/x-www-form-urlencoded", 5000, b"name=a"),
        ("/pair", "application/x-www-form-urlencoded", 5000, b""),
        ("/shop/restore", "multipart/form-data; boundary=x", 10**6, b'--x\r\nContent-Disposition: form-data; name="b'),
        ("/shop/restore", "multipart/form-data; boundary=x", 10**7,
         b'--x\r\nContent-Disposition: form-data; name="backup"; filename="a.zip"\r\n\r\n' + b"a" * 300_000),
    )  # fmt: skip
    try:
        for _ in range(5):
            for path, kind, size, body in sent:
                with socket.create_connection(("127.0.0.1", served.port)) as line:
                    line.sendall(head.format(path, served.port, kind, size).encode() + body)
                    time.sleep(0.05)
        with urllib.request.urlopen(f"{served.url}/shop", timeout=30) as page:
            assert page.status == 200
    finally:
        served.stop()
    assert "Traceback" not in (tmp_path / "log").read_text(encoding="utf-8")


def garbled(dice: random.Random, form: str) -> bytes:
    """Return a picture with some bytes changed, cut off, or put in twice."""
    out = BytesIO()
    mode = "L" if form in ("PCX", "SGI") else "RGB"
    Image.effect_noise((48, 48), 60).convert(mode).save(out, form)
    content = bytearray(out.getvalue())
    for _ in range(dice.randint(1, 8)):
        content[dice.randrange(min(len(content), 400))] = dice.randrange(256)
    if dice.random() < 0.3:
        del content[dice.randrange(len(content)) :]
    return bytes(content)


@pytest.mark.parametrize("form", FORMS)
def test_garbled_picture_of_any_format_is_shown_or_refused_in_one_sentence(form):
    dice, refused = random.Random(form), 0
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for _ in range(40):
            content = garbled(dice, form)
            for read in (lambda c=content: small_picture(c, 32), lambda c=content: photograph_svg(c)):
                try:
                    read()
                except ChooseAnotherFileError as error:
                    refused += 1
                    assert "\n" not in str(error)
            try:
                picture_svg(content, "logo")
            except ChooseAnotherFileError as error:
                assert "\n" not in str(error)
    assert refused > 0


def test_records_are_readable_by_their_owner_alone(tmp_path):
    folder = tmp_path / "shop"
    shop = shop_at(folder)
    fill(shop)
    assert {stat.S_IMODE(path.stat().st_mode) for path in folder.glob("shop.db*")} == {0o600}
    shop.close()
    (folder / "shop.db").chmod(0o644)  # as an earlier version left it
    shop_at(folder).close()
    assert stat.S_IMODE((folder / "shop.db").stat().st_mode) == 0o600
