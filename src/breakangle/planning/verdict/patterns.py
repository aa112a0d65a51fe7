"""Patterns over many readings as a judgement tells them: none against a figure that is inside."""

from collections.abc import Mapping, Sequence

from breakangle.model.plan import Finding
from breakangle.model.words.message import Message
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.registry import target_kind

# Findings that speak of crowns: of one that stands high, and of several together, which are then told as that.
HIGH, WORN = frozenset({"high-fret"}), frozenset({"worn-first-position"})
HUMP = "hump"
HUMP_REACHES_FRETS = 2  # crowns on either side of its top that rise with it; common practice, no source
# Findings that are nothing but one sort of figure, out: with all of that inside its tolerance they are not there.
OF_FIGURES = {"low-slot": "nut clearance", "high-nut": "nut clearance", "twist": "relief"}


def crowns_of(finding: Finding) -> tuple[int, ...]:
    """Return the frets whose crowns a finding speaks of."""
    return finding.where.frets if finding.finding in HIGH | WORN else ()


def as_it_was_read(finding: Finding, read: Mapping[int, Message]) -> Finding:
    """Return the finding; of one high crown that was read, with the message that says how it was `read`, by fret."""
    frets = crowns_of(finding)
    if finding.finding not in HIGH or len(frets) != 1 or frets[0] not in read:
        return finding
    return finding.model_copy(update={"message": read[frets[0]]})


def told_once(findings: Sequence[Finding], humped: Mapping[int, float]) -> tuple[Finding, ...]:
    """Return the findings without single high crowns that are nothing but a hump told of beside them."""
    return tuple(
        one
        for one in findings
        if one.finding not in HIGH
        or one.size is None
        or not _goes_with(one.where.frets, one.size.value, humped)
    )


def humped_frets(findings: Sequence[Finding]) -> dict[int, float]:
    """Return the frets whose crowns rise together as a hump, each with the most that it stands high by that, mm."""
    humps = [one for one in findings if one.finding == HUMP and one.size is not None]
    around = range(-HUMP_REACHES_FRETS, HUMP_REACHES_FRETS + 1)
    return {
        one.where.frets[0] + step: one.size.value + one.tolerance
        for one in humps
        for step in around
        if one.size is not None
    }


def _goes_with(frets: Sequence[int], mm: float, humped: Mapping[int, float]) -> bool:
    return bool(frets) and all(mm <= humped.get(fret, 0.0) for fret in frets)


def matters(finding: Finding) -> bool:
    """Return whether it is as large as it has to be to matter."""
    return finding.size is None or abs(finding.size.value) >= finding.tolerance


def not_against(findings: Sequence[Finding], sight: Sight) -> tuple[Finding, ...]:
    """Return the findings without those of a sort of figure that has been read to be inside, at all their strings.

    A plan that leaves a slot because its clearance is inside does not call it low beside that.
    """
    return tuple(one for one in findings if not _is_inside(one, sight))


def _is_inside(finding: Finding, sight: Sight) -> bool:
    name, strings = OF_FIGURES.get(finding.finding), finding.where.strings
    places = [
        index
        for index, target in enumerate(sight.targets)
        if str(target_kind(target).role(target)[0]) == name and (not strings or target.string in strings)
    ]
    return bool(places) and all(sight.judged[index] and sight.inside[index] for index in places)
