"""The example workshop's people, instruments and words: all invented."""

MAKER = "Ada Quill"
# Name, kind, owner, first visit (days before now), days between visits, hours of playing a week.
INSTRUMENTS = (
    ("Heron", "electric-guitar", 0, 725, 170, 9.0),
    ("Wagtail", "electric-guitar", 1, 640, 190, 4.0),
    ("Bittern", "bass-four", 0, 700, 200, 6.0),
    ("Plover", "steel-acoustic-guitar", 2, 690, 160, 7.0),
    ("Curlew", "steel-acoustic-guitar", 3, 610, 210, 2.0),
    ("Wren", "mandolin", 2, 655, 220, 3.0),
    ("Siskin", "nylon-acoustic-guitar", 3, 580, 250, 5.0),
)
# Here for the first time: name, kind, owner, hours of playing a week.
NEW_HERE = (
    ("Redwing", "electric-guitar", 2, 6.0),
    ("Lapwing", "bass-four", 3, 8.0),
    ("Godwit", "steel-acoustic-guitar", 1, 3.0),
)
OWNERS = (
    ("Milo Tarn", "milo@example.org"),
    ("Åse Lindqvill", "ase@example.org"),
    ("Petra Oake", "petra@example.org"),
    ("Hill Street School", "school@example.org"),
)
INSTRUMENT_NOTES = {
    "Heron": "Milo spielt hart: a heavy pick, two songs tuned down. Strap button <bass side> is glued, not screwed.",
    "Wagtail": "Åse's father built it; the label inside says « pour Zoë, été 1998 ».",
    "Curlew": "School & loan instrument: two keys on the case, no. 3 <do not lend before the concert>.",
    "Siskin": "Peg of string 3 slips in dry weather.",
}
COMPLAINTS = (
    "buzzes low down",
    "hard to press",
    "a yearly check",
    "out of tune up the neck",
    "new strings, please",
)
VISIT_NOTES = (
    "",
    "Fret 9 a hair high on the bass side; left alone, it does not buzz.",
    "",
    "Owner asks for <2 mm at fret 12 & no more: “as low as it goes”.",
    "Nut slot of string 4 binds (ping!); rubbed with a soft pencil.",
    "",
    "Crème-coloured button missing; ½ turn of the strap screw.",
)
