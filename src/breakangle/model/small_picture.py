"""A picture made small with little memory: large ones are never held twice, nor whole where their format allows it."""

from io import BytesIO
from typing import TYPE_CHECKING

from breakangle.model.errors import ChooseAnotherFileError
from breakangle.model.words.speech import tr

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_PIXELS = 80_000_000
STRIP_ROWS = 64


def small_picture(content: bytes, most_side: int) -> "Image":
    """Return the picture upright, as RGB, at most `most_side` pixels a side.

    Raises:
        ChooseAnotherFileError: it is no picture, cannot be read, or has more than 80 million pixels.
    """
    from PIL import Image, ImageOps

    try:
        with Image.open(BytesIO(content)) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                given = tr(
                    "this picture has {width} × {height} pixels", width=picture.width, height=picture.height
                )
                possible = tr("at most {most_pixels:.0f} million", most_pixels=MOST_PIXELS / 1000000.0)
                raise ChooseAnotherFileError(given, possible, tr("make it smaller"))
            picture.draft(None, (2 * most_side, 2 * most_side))  # JPEG alone can be read smaller than it is
            turned = picture.getexif()
            small = _reduced(picture, most_side)
            small.info["exif"] = turned.tobytes()
            small = ImageOps.exif_transpose(small)
            small.thumbnail((most_side, most_side))
            return small
    except (ChooseAnotherFileError, MemoryError):
        raise
    except Exception as cause:  # what else the reader of a format raises is for the format to know
        given = tr("this file is no picture that can be shown")
        raise ChooseAnotherFileError(given, "", tr("choose another")) from cause


def _reduced(picture: "Image", most_side: int) -> "Image":
    """Return the picture as RGB, by a whole factor smaller, strip by strip."""
    from PIL import Image

    wide, tall = picture.size
    factor = max(wide, tall) // (2 * most_side)
    if factor < 2:
        return picture.convert("RGB")
    small = Image.new("RGB", (-(-wide // factor), -(-tall // factor)))
    for top in range(0, tall, factor * STRIP_ROWS):
        strip = picture.crop((0, top, wide, min(tall, top + factor * STRIP_ROWS)))
        small.paste(strip.convert("RGB").reduce(factor), (0, top // factor))
    return small
