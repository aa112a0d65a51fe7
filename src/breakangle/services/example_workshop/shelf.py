"""The example workshop's shelf, gauges, prices, heading and pictures: all invented; the pictures are drawn here."""

from io import BytesIO

from breakangle.reference.families import family
from breakangle.services.strings.shelf import add_stock, count_stock
from breakangle.services.strings.stock import add_strings
from breakangle.services.workshop.attachments import attach
from breakangle.services.workshop.paper_heading import set_heading
from breakangle.services.workshop.prices import add_price, set_setting
from breakangle.storage.records.records import Gauge, InstrumentRecord, Stock, Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import Stamp

GAUGES = (
    ("feelers", "gap", 0.02, "checked against a block"),
    ("dial gauge", "gap", 0.01, "zeroed on the straightedge each morning"),
    ("clip-on tuner", "pitch", 1.0, "good to the cent on a good day"),
)
PRICES = (
    ("labour", "set-up", "65"),
    ("labour", "fret levelling, crowning & polish", "180"),
    ("labour", "new nut, bone", "95"),
    ("part", "nut blank, bone", "9.80"),
    ("part", "strap button", "4.50"),
)
# Family, words, how many lie there when the year's work is done, fewer than which are to be ordered.
PACKS = (
    ("electric-guitar", "electric set, nickel-plated, 0.010 in", 9, 4),
    ("steel-acoustic-guitar", "acoustic set, bronze, 0.012 in", 6, 4),
    ("bass-four", "bass set, four strings, 0.045 in", 1, 2),
    ("mandolin", "mandolin set, eight strings", 3, 2),
    ("nylon-acoustic-guitar", "nylon set, normal tension", 4, 2),
)
PARTS = (("nut blank, bone", 6, 3), ("strap button", 11, 4))
FIRST_COUNT = 30
PAPER, WOOD, DARK, METAL = (214, 205, 188), (158, 104, 58), (58, 40, 28), (190, 190, 184)


def furnish(shop: Shop, stamp: Stamp) -> dict[str, Stock]:
    """Put gauges, prices, the shop's heading and the shelf in place; return the string packs by family."""
    for name, quantity, spread, notes in GAUGES:
        shop.add(Gauge, stamp, name=name, quantity=quantity, spread=spread, notes=notes)
    set_setting(shop, "tax_percent", "20", stamp)
    for kind, words, amount in PRICES:
        add_price(shop, stamp, kind, words, amount)
    lines = ("3 Old Ropewalk, Düneck", "Tue to Sat, 10 to 17", "bench@example.org")
    set_heading(shop, stamp, "Quill & Thorne, fretted instruments", lines)
    for words, held, least in PARTS:
        add_stock(shop, stamp, words, held, least)
    return {kind: _pack(shop, stamp, kind, words, least) for kind, words, _, least in PACKS}


def _pack(shop: Shop, stamp: Stamp, kind: str, words: str, least: int) -> Stock:
    strings = [
        {
            "string": number,
            **{
                name: value
                for name in ("make", "diameter_mm", "core_mm", "wrap")
                if (value := getattr(one, name)) is not None
            },
        }
        for number, one in enumerate(family(kind).strings, 1)
    ]
    stock = {"kind": "pack", "cost": "12.50", "strings": strings}
    return add_strings(shop, stamp, words, stock, FIRST_COUNT, least).record


def count_the_shelf(shop: Shop, stamp: Stamp) -> None:
    """Count the shelf at the end of the year: what lies there now."""
    for _, words, held, _ in PACKS:
        lying = shop.every(Stock, words=words)[0].held_count
        count_stock(shop, stamp, words, held - lying)


def photograph(shop: Shop, stamp: Stamp, of: Visit | InstrumentRecord, name: str) -> None:
    """Attach a small picture by that name: `front` or `headstock`."""
    drawn = {"front": _front, "headstock": _headstock}[name]
    attach(shop, stamp, of, "photograph", f"{name}.jpg", drawn())


def _front() -> bytes:
    """Return a body seen from the front, as a JPEG."""
    from PIL import Image, ImageDraw

    picture = Image.new("RGB", (640, 420), PAPER)
    pen = ImageDraw.Draw(picture)
    pen.ellipse((20, 70, 250, 350), fill=WOOD)
    pen.ellipse((190, 100, 370, 320), fill=WOOD)
    pen.rectangle((330, 188, 640, 232), fill=DARK)
    for number in range(1, 13):
        x = 340 + 300 * (1 - 2 ** (-number / 12)) * 2
        pen.line((x, 188, x, 232), fill=METAL, width=3)
    pen.rectangle((118, 160, 134, 260), fill=METAL)
    for number in range(6):
        y = 194 + 6.4 * number
        pen.line((126, 180 + 12 * number, 340, y), fill=METAL, width=1)
        pen.line((340, y, 640, y), fill=METAL, width=1)
    return _jpeg(picture)


def _headstock() -> bytes:
    """Return a headstock with six buttons, as a JPEG."""
    from PIL import Image, ImageDraw

    picture = Image.new("RGB", (640, 420), PAPER)
    pen = ImageDraw.Draw(picture)
    pen.polygon(
        [(0, 180), (170, 180), (240, 120), (600, 90), (600, 330), (240, 300), (170, 240), (0, 240)], fill=WOOD
    )
    pen.rectangle((0, 182, 160, 238), fill=DARK)
    pen.rectangle((160, 178, 176, 242), fill=PAPER)
    for number in range(3):
        x = 310 + 110 * number
        for y, outer in ((160, 62 - 6 * number), (260, 330 + 6 * number)):
            pen.rectangle((x - 14, min(y, outer), x + 14, max(y, outer) + 24), fill=METAL)
            pen.ellipse((x - 17, y - 17, x + 17, y + 17), fill=METAL, outline=DARK, width=3)
            pen.line((176, 186 + 10 * number if y < 200 else 234 - 10 * number, x, y), fill=METAL, width=1)
    return _jpeg(picture)


def _jpeg(picture: object) -> bytes:
    out = BytesIO()
    picture.save(out, "JPEG", quality=80)  # type: ignore[attr-defined]
    return out.getvalue()
