"""What is wrong with an instrument as a whole, planted in a given size: each function changes the instrument in place.

Sizes are in mm or degrees, told for each. What was planted is noted in `planted`, name to size.
"""

from bench.workshop.instrument import WorkshopInstrument

# How a first position wears: most at frets 1 to 3; common practice, no source.
WORN_SHARES = (0.9, 1.0, 0.85, 0.55, 0.35)


def twist(one: WorkshopInstrument, mm: float) -> None:
    """Twist the neck until relief at the bass edge exceeds relief at the treble edge by `mm` more than it did.

    Relief goes up by half of that at the bass edge and down by half at the treble edge. Actions and nuts go with it.
    """
    one.twist_mm += mm
    one.planted["twist"] = one.planted.get("twist", 0.0) + mm


def neck_angle(one: WorkshopInstrument, degrees: float) -> None:
    """Tip the neck forward by `degrees` about its joint, so that every string stands higher over the board.

    What a reset (or a shim) would take out again. With `degrees` D, the distance x from the nut and the joint at J, the
    board comes up by tan(D) (J - x) before the joint; past it, it stays on the body.
    """
    one.neck_degrees += degrees
    one.planted["neck-angle"] = one.planted.get("neck-angle", 0.0) + degrees


def rising_tongue(one: WorkshopInstrument, mm: float) -> None:
    """Raise the board past the joint in a growing curve, by `mm` at the last fret."""
    one.tongue_mm += mm
    one.planted["rising-tongue"] = one.planted.get("rising-tongue", 0.0) + mm


def hump(one: WorkshopInstrument, mm: float) -> None:
    """Raise a hump of `mm` at the fret where neck and body join, gone a hand's breadth to either side."""
    one.hump_mm += mm
    one.planted["hump"] = one.planted.get("hump", 0.0) + mm


def worn_first_position(
    one: WorkshopInstrument, mm: float, frets: int = 5, strings: tuple[int, ...] = ()
) -> None:
    """Wear the crowns of the first `frets` (3 to 5), by `mm` where most, under all strings or under `strings`."""
    rows = [n - 1 for n in strings] or list(range(one.count))
    for fret in range(1, frets + 1):
        one.crown_mm[rows, fret - 1] -= mm * WORN_SHARES[fret - 1]
    one.planted["worn-first-position"] = mm


def high_fret(one: WorkshopInstrument, fret: int, mm: float, strings: tuple[int, ...] = ()) -> None:
    """Lift one fret's crown by `mm`, under all strings or under `strings`."""
    rows = [n - 1 for n in strings] or list(range(one.count))
    one.crown_mm[rows, fret - 1] += mm
    one.planted["high-fret"] = mm


def low_slot(one: WorkshopInstrument, string: int, mm: float) -> None:
    """Deepen one nut slot until the straight string's clearance over the next fret is `mm` less than it was."""
    s, first = string - 1, one.first[string - 1]
    x = one.fret_x[s]
    one.nut_mm[s] -= mm / (1.0 - (x[first + 1] - x[first]) / (x[first + 3] - x[first]))
    one.planted["low-slot"] = mm


def moved_bridge(one: WorkshopInstrument, mm: float, slant_mm: float = 0.0) -> None:
    """Move the whole bridge by `mm` away from the nut, and `slant_mm` more at the bass edge, less at the treble."""
    one.setback_mm = one.setback_mm + mm - slant_mm * one.sides
    one.planted["moved-bridge"] = one.planted.get("moved-bridge", 0.0) + mm


def moved_top(one: WorkshopInstrument, mm: float, tilt_mm: float = 0.0) -> None:
    """Raise (or sink, `mm` below nothing) the plane the bridge stands on: a top, or a banjo's head.

    `tilt_mm` raises the treble edge by so much more and the bass edge by so much less.
    """
    one.saddle_mm = one.saddle_mm + mm + tilt_mm * one.sides
    one.planted["moved-top"] = one.planted.get("moved-top", 0.0) + mm
