"""Days along a time axis: first days of months or years, as many as there is room for."""

from datetime import date

from breakangle.drawings.text_width import text_width

MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)
DAY_STEPS = (1, 2, 7, 14)
SHORTEST_MONTHS_DAYS = 75


def date_ticks(first_day: int, last_day: int, room: float, size: float) -> list[tuple[int, str]]:
    """Return (day, words) between two days (proleptic ordinals): `2026-03`, or `2026` where years are enough.

    `room` is the length of the axis, `size` that of its text.
    """
    if last_day - first_day < SHORTEST_MONTHS_DAYS:
        return _single_days(first_day, last_day, room, size)
    for months in MONTH_STEPS:
        found = [
            (day.toordinal(), f"{day.year}" if months >= 12 else f"{day.year}-{day.month:02d}")
            for day in _firsts(date.fromordinal(first_day), date.fromordinal(last_day), months)
        ]
        if len(found) * (text_width("2026-03", size) + size) <= room:
            return found
    return []


def _single_days(first_day: int, last_day: int, room: float, size: float) -> list[tuple[int, str]]:
    wide = text_width("2026-03-01", size) + size
    for step in (*DAY_STEPS, SHORTEST_MONTHS_DAYS):
        days = range(first_day + (last_day - first_day) % step // 2, last_day + 1, step)
        if len(days) * wide <= room:
            return [(day, date.fromordinal(day).isoformat()) for day in days]
    return []


def _firsts(first: date, last: date, months: int) -> list[date]:
    """Return first days of every `months`-th month, counted from a January, within two days."""
    found = []
    count = first.year * 12
    while (day := date(count // 12, count % 12 + 1, 1)) <= last:
        if day >= first and count % months == 0:
            found.append(day)
        count += 1
    return found
