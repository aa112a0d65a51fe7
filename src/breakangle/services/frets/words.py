"""Fret work in messages: what to do, what to read first, what is left; the words come from the catalogue."""

from breakangle.model.words.message import Message
from breakangle.model.words.said import frets_in_words
from breakangle.model.words.speech import tr
from breakangle.planning.kinds.readings.crown_height import USUAL_MM
from breakangle.planning.levelling.bought import CHECK_WITHIN_MM
from breakangle.planning.levelling.plan import FINEST_MM
from breakangle.services.frets.levelling import FretWork

WORTH_MM = 0.005  # less is no difference in height; chosen
MANY_TIMES = 9  # chosen: more is not counted
CAUTIONS = ("metal-dust", "filing", "waste")


def verdict_of(work: FretWork) -> Message:
    """Return the plan in one sentence."""
    plan, action = work.plan, float(work.asked_mm.mean())
    values = {
        "strength": work.strength,
        "action": float(plan.action_mm.mean()) if plan.verdict != "no-metal" else action,
        "mm": float(plan.off_mm.max()),
        "frets": frets_in_words(plan.too_low or plan.frets or (1,)),
        "least": work.least_mm,
        "over": action + plan.over_mm,
    }
    if work.unverified:
        reckoned = {
            "strength": work.strength,
            "percent": 100.0 * work.bought.touch_unlevelled,
            "action": action,
        }
        return Message(key="frets.unverified", values=reckoned, severity="care")
    if work.open:
        now = {
            "strength": work.strength,
            "percent": 100.0 * plan.touch_before,
            "now": float(work.action_now_mm.mean()),
            "asked_percent": 100.0 * work.bought.touch_unlevelled,
            "action": action,
        }
        return Message(key="frets.read_first", values=now, severity="care")
    if work.cuts and not work.sure:
        values |= {
            "percent": 100.0 * plan.chance.any_touch,
            "sure": action + plan.sure_over_mm,
            "action": action,
        }
        about = tuple(f"fret {one}" for one in plan.frets)
        return Message(key="frets.not_surely", values=values, about=about, severity="care")
    key = f"frets.{plan.verdict.replace('-', '_')}"
    about = tuple(f"fret {one}" for one in (plan.too_low or plan.frets))
    return Message(
        key=key, values=values, about=about, severity="note" if plan.verdict == "leave" else "care"
    )


def first_of(work: FretWork) -> tuple[Message, ...]:
    """Return what must be read before a file is taken up; empty where nothing must."""
    if not (work.cuts or work.unverified):
        return ()
    found = []
    if work.missing:
        found.append(
            Message(
                key="frets.read_figures",
                values={"what": tr(" and ").join(map(tr, work.missing))},
                severity="stop",
            )
        )
    if work.unread and not work.unverified:
        values = {"frets": frets_in_words(work.unread)}
        found.append(Message(key="frets.read_crowns", values=values, severity="stop"))
    if not (work.height_read or work.unverified):
        found.append(Message(key="frets.read_height", severity="stop"))
    return tuple(found)


def after_of(work: FretWork) -> tuple[Message, ...]:
    """Return what the work comes to: relief to set, chance of a touch, metal left, flats, nut."""
    if work.open:
        return ()
    plan, found = work.plan, []
    if plan.off_mm.max() >= FINEST_MM:
        found.append(Message(key="frets.relief", values={"relief": plan.relief_mm}))
    found.append(_chance(work))
    if work.cuts and work.bought.lowest_before_mm - work.bought.lowest_after_mm >= WORTH_MM:
        lowest = {"before": work.bought.lowest_before_mm, "after": work.bought.lowest_after_mm}
        found.append(Message(key="frets.buys", values=lowest))
    if work.levelled:
        found.append(Message(key="frets.verified", values={"count": work.verified_by}))
    if plan.off_mm.max() >= FINEST_MM:
        left = {
            "left": float(plan.left_mm.min()),
            "times": plan.times_left if plan.times_left <= MANY_TIMES else tr("many"),
        }
        flat = {"flat": float(plan.flat_mm.max()), "cents": float(plan.cents.max())}
        found += [Message(key="frets.left", values=left), Message(key="frets.flat", values=flat)]
    if not work.height_read:
        found.append(Message(key="frets.assumed_height", values={"mm": USUAL_MM}))
    return tuple(found)


def checks_of(work: FretWork) -> tuple[Message, ...]:
    """Return the few crowns to read after the work, with what they should read; empty where nothing is filed."""
    return tuple(
        Message(
            key="frets.check",
            values={"fret": one.fret, "string": one.string, "mm": one.mm, "within": CHECK_WITHIN_MM},
            about=(f"string {one.string}", f"fret {one.fret}"),
        )
        for one in (work.bought.checks if work.orders or work.unverified else ())
    )


def _chance(work: FretWork) -> Message:
    percent, place = 100.0 * work.plan.chance.any_touch, work.plan.read_next
    if work.sure or place is None:
        return Message(key="frets.sure", values={"percent": percent})
    values = {"percent": percent, "string": place[0], "fret": place[1]}
    about = (f"string {place[0]}", f"fret {place[1]}")
    return Message(key="frets.not_sure", values=values, about=about, severity="care")
