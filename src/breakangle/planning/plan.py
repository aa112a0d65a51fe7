"""State and targets to steps: the fewest adjustments, in an order that does not undo itself, right in one pass."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from breakangle.model.plan import Note, Plan, Solved, Verdict
from breakangle.model.reading import Adjustment, Target
from breakangle.model.service import Service
from breakangle.planning.estimate.diagnosis.find import findings
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.estimate.house_targets import targets_of
from breakangle.planning.estimate.reading_state import read_in_visit
from breakangle.planning.estimate.target_state import Sight, aimed, sight_of
from breakangle.planning.explain import remarks
from breakangle.planning.explain.asked_last import asked_or_beyond, while_asked
from breakangle.planning.explain.body import harmonic_questions
from breakangle.planning.explain.effects import effect_notes
from breakangle.planning.explain.next_reading import Again, read_again, read_next
from breakangle.planning.explain.questions import held_back_notes, questions
from breakangle.planning.solve.decide import Decision, buzzes
from breakangle.planning.solve.nearer import nearer_notes, still_outside, worked_to
from breakangle.planning.trips import step_reasons
from breakangle.planning.trips.course import course
from breakangle.planning.trips.once import decided_once
from breakangle.planning.verdict.judgement import allowed_verdict, judge
from breakangle.planning.verdict.open_figures import surely_missed


def _solved(estimate: Estimate, sight: Sight) -> Solved:
    readings = tuple(sight.reading(index) for index in range(len(sight.targets)))
    return Solved(readings=readings, responses=step_reasons.responses(estimate))


@dataclass(frozen=True)
class Planned:
    """A plan, and all that is worth reading again before its next step: the plan asks for the first few of that."""

    plan: Plan
    again: Again


def plan(service: Service, now: Estimate, without: Sequence[Adjustment] = ()) -> Plan:
    """Return the plan for `service`, whose solved state is `now`; the adjusters in `without` are left alone.

    Solve it again after each step done and each reading taken: put the step into the service's `work`, the
    reading into its `readings` with `after`, and estimate anew.
    """
    return planned(service, now, without).plan


def planned(service: Service, now: Estimate, without: Sequence[Adjustment] = ()) -> Planned:
    """Return the plan, as `plan` does, with all that is worth reading again."""
    targets, found = targets_of(service, now.board), findings(service, now)
    known, now = now, now.weighed
    sight, strength = sight_of(now, targets.wanted), targets.no_buzz_at
    shown = sight if now is known else sight_of(known.stated, targets.wanted)
    to = worked_to(service, now, sight)
    decision, in_hand = decided_once(service, now, aimed(now, targets.wanted, to), without, found, sight)
    missed = surely_missed(still_outside(decision.unreached, sight, to), service, now, sight)
    decision = replace(decision, unreached=missed)
    way = course(service, now, sight, decision, without)
    steps, buzzing = way.steps, buzzes(way.end, strength) if strength else ()
    judged = judge(service, known, sight, found, missed={one.target for one in missed})
    breaks = not steps and remarks.breaking(now)  # nothing is worth reading before such a string was seen to
    beyond = missed or buzzing or breaks or (not steps and _held_by_pattern(decision))
    undone = "adjust" if steps else _undone(service, sight, decision)
    verdict = allowed_verdict("beyond-setup" if beyond else undone, judged)
    again, more = read_again(service, now, to, decision, way.off_in_turn), read_next(service, now, sight)
    asked = () if breaks else questions(service, now, sight, decision, (again, more))
    if verdict == "read-first":
        verdict, asked = asked_or_beyond(asked, service, sight, judged, bool(decision.held_back))
    asked += () if breaks else harmonic_questions(service, sight, now.board, judged.beyond)
    idle = verdict == "beyond-setup" and not steps  # nothing that a reading would tell is waited for
    notes, told = _of_work(service, now, sight, decision, in_hand), (again, None if asked or idle else more)
    notes += tuple(Note(key="plan.would_touch", words=one.sentence(str(strength))) for one in buzzing)
    notes += remarks.notes(service, known, (sight, way.seen), decision, steps, told, judged)
    made = Plan(
        verdict=while_asked(verdict, steps, asked),
        steps=steps,
        trips=way.trips,
        now=_solved(known, shown),
        then=_solved(way.end, way.seen),
        targets=targets,
        noted=notes + effect_notes(service, now, sight, steps),
        unreached=tuple(one.target for one in missed),
        findings=judged.patterns,
        questions=asked,
        read_again=again.shown(service.readings),
        read_next=more,
    )
    return Planned(made, again)


def _of_work(
    service: Service, now: Estimate, sight: Sight, decision: Decision, in_hand: tuple[Note, ...]
) -> tuple[Note, ...]:
    """Return what is said of work that waits, of work in hand, and of what is brought nearer the middle."""
    nearer = nearer_notes(service, now, sight, decision.moves)
    return held_back_notes(service, now, sight, decision) + in_hand + nearer


def _undone(service: Service, sight: Sight, decision: Decision) -> Verdict:
    """Return the verdict where nothing is done: leave it only where all that is wanted was read at this visit."""
    open_still = bool(decision.waiting.any()) or not (sight.judged & read_in_visit(service, sight)).all()
    return "read-first" if open_still else "leave"


def _held_by_pattern(decision: Decision) -> bool:
    """Return whether a pattern found in the readings holds work back."""
    return any(one.by_pattern for one in decision.held_back)


def wanted(service: Service, now: Estimate) -> tuple[Target, ...]:
    """Return the targets that `plan` would work to."""
    return targets_of(service, now.board).wanted
