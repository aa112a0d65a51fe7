"""One judgement of an instrument: the plan's verdict, and every statement that pages, terminal and sheets may make.

`plan`, `buzz`, `lowest` and the owner's sheet take what they say of crowns, strings on crowns, notes that touch and
figures that nobody read from here, so that none of them can contradict another.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from breakangle.model.plan import Finding, Plan, Verdict
from breakangle.model.service import Service, Targets
from breakangle.planning.estimate.estimate import Estimate, Surprise
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.target_state import Sight, sight_of
from breakangle.planning.kinds.readings.crown import Crown
from breakangle.planning.kinds.readings.gap import Gap
from breakangle.planning.verdict.crowns import CrownOut, crowns_out, with_crowns_as_read
from breakangle.planning.verdict.moved import Worked
from breakangle.planning.verdict.open_figures import OpenFigure, doubted_readings, open_figures
from breakangle.planning.verdict.patterns import (
    HIGH,
    as_it_was_read,
    crowns_of,
    humped_frets,
    matters,
    not_against,
    told_once,
)
from breakangle.planning.verdict.resting import resting
from breakangle.planning.verdict.touches import Touching, touching
from breakangle.reference.strength import Playing, played

PROBABLE = 0.5  # from here on what was found is likelier so than not; derived
LENGTHS = frozenset({"mm"})


@dataclass(frozen=True)
class Judgement:
    """What is wrong and what is not known: `verdict` is the plan's, `hand` the strength the owner plays with.

    `crowns` out of line, `on_crowns` the readings of strings that lie on a crown, `doubted` readings, `open` figures.
    Notes that touch are worked out when they are first asked for.
    """

    service: Service
    now: Estimate
    verdict: Verdict
    hand: str
    findings: tuple[Finding, ...]
    crowns: tuple[CrownOut, ...]
    on_crowns: tuple[Gap, ...]
    doubted: tuple[Surprise, ...]
    open: tuple[OpenFigure, ...]
    played: Playing | None = None
    steps: int = 0
    _touching: dict[str, Touching] = field(default_factory=dict, compare=False, repr=False)

    def touching(self, strength: str | None = None) -> Touching:
        """Return the notes that touch at `strength` (None: the owner's own).

        Raises:
            CorrectInputError: a strength that is not light, medium or heavy.
        """
        wanted = strength or self.hand
        if wanted not in self._touching:
            how = self.played or played(self.now.board.instrument)
            self._touching[wanted] = touching(with_crowns_as_read(self.service, self.now), how, wanted)
        return self._touching[wanted]

    @cached_property
    def touching_crowns(self) -> tuple[CrownOut, ...]:
        """Return the proud crowns that were read and that notes touch as the owner plays."""
        proud = [one for one in self.crowns if one.proud and one.read]
        touched = {one.crown for one in self.touching().notes} if proud else set()
        return tuple(one for one in proud if one.fret in touched)

    @property
    def beyond(self) -> tuple[Finding, ...]:
        """Return the patterns that are likelier there than not, and as large as matters."""
        return tuple(one for one in self.findings if one.probability >= PROBABLE and matters(one))

    @property
    def patterns(self) -> tuple[Finding, ...]:
        """Return the patterns to tell of; a high crown that was read is told as it was read."""
        read = {one.fret: one.message() for one in self.crowns if one.read}
        return tuple(as_it_was_read(one, read) for one in self.findings)

    @property
    def crowns_apart(self) -> tuple[CrownOut, ...]:
        """Return the crowns out of line that no pattern tells of."""
        told = {fret for one in self.findings for fret in crowns_of(one)}
        return tuple(one for one in self.crowns if one.fret not in told)

    @property
    def nothing_open(self) -> bool:
        """Return whether every wanted figure was read, stands undoubted, and can be told in from out."""
        return not self.open and not self.doubted

    @property
    def nothing_wrong(self) -> bool:
        """Return whether nothing was found: no crown out of line, no string on a crown, no pattern."""
        return not (self.crowns or self.on_crowns or self.beyond)

    def needed_nothing(self) -> bool:
        """Return whether an owner may be told that the instrument needed nothing."""
        return (
            self.verdict == "leave" and self.nothing_open and self.nothing_wrong and not self.touching().heard
        )


def judge(
    service: Service,
    now: Estimate,
    sight: Sight | None = None,
    findings: Sequence[Finding] = (),
    verdict: Verdict = "leave",
    played: Playing | None = None,
    missed: Collection[int] = (),
) -> Judgement:
    """Return the judgement of a service in its present state; `verdict` is what its plan would say by itself.

    Args:
        service: the whole visit.
        now: its most probable state.
        sight: its targets as they are decided on, doubt counted in, where they are at hand.
        findings: the patterns recognised over many readings.
        verdict: the plan's.
        played: how the shop finds such instruments played; None: as the tables have it.
        missed: the places of targets that are told as beyond a set-up: these are not told as unknown too.
    """
    worked = Worked(service, now)
    if sight is None:
        sight = sight_of(now, targets_of(service, now.board).wanted)
    findings = not_against(findings, sight)
    probable = [one for one in findings if one.probability >= PROBABLE and matters(one)]
    humped = humped_frets(probable)
    findings = told_once(findings, humped)
    single, many = (
        {fret for one in probable if (one.finding in HIGH) is high for fret in crowns_of(one)}
        for high in (True, False)
    )
    crowns = crowns_out(service, now, worked, told=many, told_unread=single)
    crowns = tuple(one for one in crowns if not one.proud or one.high_mm > humped.get(one.fret, 0.0))
    doubted = doubted_readings(service, now, worked)
    return Judgement(
        service=service,
        now=now,
        verdict=verdict,
        hand=_hand(service),
        findings=findings,
        crowns=crowns,
        on_crowns=resting(service, worked),
        doubted=doubted,
        open=open_figures(service, sight, doubted, missed),
        played=played,
    )


def judgement_of(service: Service, now: Estimate, plan: Plan, played: Playing | None = None) -> Judgement:
    """Return the judgement that a plan was made by, with its verdict: what every page and sheet speaks from."""
    sight = sight_of(now, plan.targets.wanted)
    found = judge(service, now, sight, plan.findings, plan.verdict, played, plan.unreached)
    return replace(found, steps=len(plan.steps))


def allowed_verdict(proposed: Verdict, found: Judgement) -> Verdict:
    """Return the verdict that may be said: `leave` only where nothing was found and nothing it rests on is open.

    A crown that was read proud and that notes touch, a string on a crown or a pattern is more than a set-up, whatever
    else is still to be read; a figure that is unread or doubted is read first.
    """
    if proposed not in ("leave", "read-first"):
        return proposed
    if found.beyond or found.touching_crowns or any(not _is_doubted(one, found) for one in found.crowns):
        return "beyond-setup"
    if proposed == "read-first" or found.on_crowns or not found.nothing_open:
        return "read-first"
    return "leave"


def _is_doubted(crown: CrownOut, found: Judgement) -> bool:
    """Return whether a crown out of line rests on nothing but a reading that the others speak against."""
    doubted = {one.reading.fret for one in found.doubted if isinstance(one.reading, Crown)}
    return crown.read and crown.fret in doubted


def _hand(service: Service) -> str:
    """Return the strength that the instrument is judged at: what is asked for, else its owner's hand."""
    return (service.targets or Targets()).strength


def open_heights(found: Judgement) -> tuple[OpenFigure, ...]:
    """Return the heights, relief among them, that are not known: what a lower set-up would rest on."""
    return tuple(one for one in found.open if one.kind.unit in LENGTHS)
