"""Patterns over many readings as a judgement tells them: none against a figure that is inside."""

from collections.abc import Mapping, Sequence

from breakangle.model.plan import Finding
from breakangle.model.words.message import Message
from breakangle.planning.estimate.target_state import Sight
from breakangle.planning.kinds.registry import target_kind

# Findings that speak of crowns: of one that stands high, and of several together, which are then told as that.
HIGH, WORN = frozenset({"high-fret"}), frozenset({"worn-first-position"})
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
