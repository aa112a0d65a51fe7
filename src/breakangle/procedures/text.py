"""A procedure as plain text: for a terminal, for paper, for a screen reader."""

import re
from collections.abc import Mapping

from breakangle.model.words.speech import tr
from breakangle.procedures.model import Procedure, Step
from breakangle.reference.routine import caution, facts

LENGTH_GAP = re.compile(r"(?<=\d) (?=mm\b)")


def procedure_text(
    procedure: Procedure,
    known: dict[str, str] | None = None,
    width: int = 78,
    own_minutes: Mapping[str, float] | None = None,
) -> str:
    """Return the procedure for an instrument of these facts; a step whose fact is not known says when it is for.

    `own_minutes` are what this bench takes for its steps, where earlier runs have told. Cautions stand before the
    steps they belong to, each in its own words, said again only after another step.
    """
    told = known or {}
    lines = [procedure.title, "=" * len(procedure.title), *_wrapped(procedure.purpose, width, ""), ""]
    learned = tr(", as this bench has taken before") if own_minutes else ""
    lines.append(
        tr(
            "About {minutes:.0f} minutes{learned}.",
            minutes=procedure.minutes(told, own_minutes),
            learned=learned,
        )
    )
    before: tuple[str, ...] = ()
    for number, step in enumerate(procedure.steps_for(told), start=1):
        lines.append("")
        lines += _step_lines(number, step, told, before, width)
        before = step.shown_cautions
    return "\n".join(lines) + "\n"


def condition_in_words(step: Step, known: dict[str, str]) -> str:
    """Return when the step is for this instrument, as far as that is not known; empty where it is."""
    open_ones = [name for name in step.when if name not in known]
    said = []
    for name in open_ones:
        fact = facts()[name]
        said.append(f"{fact.words} {tr(' or ').join(str(fact.told[choice]) for choice in step.when[name])}")
    return tr(" and ").join(said)


def _step_lines(
    number: int, step: Step, known: dict[str, str], before: tuple[str, ...], width: int
) -> list[str]:
    lead = f"{number}. "
    indent = " " * len(lead)
    lines: list[str] = []
    condition = condition_in_words(step, known)
    if condition:
        lines += _wrapped(tr("Only if {condition}:", condition=condition), width, indent)
    fresh = [name for name in step.shown_cautions if name not in before]
    for name in fresh:
        lines += _wrapped(f"! {caution(name).words}", width, indent)
    body = _wrapped(step.do, width, indent)
    lines += [lead + body[0].strip(), *body[1:]]
    lines += _wrapped(tr("Why: {why}", why=step.why), width, indent)
    if step.tools:
        lines += _wrapped(tr("With: {tools}.", tools=", ".join(step.tools)), width, indent)
    if step.timer is not None:
        stands = tr(
            "{timer_words}: {least_s} to {most_s} s.",
            timer_words=step.timer.words,
            least_s=step.timer.least_s,
            most_s=step.timer.most_s,
        )
        lines += _wrapped(stands, width, indent)
    for one in step.record:
        lines += _wrapped(tr("Note: {words}", words=one.words), width, indent)
    return lines


def _wrapped(text: str, width: int, indent: str) -> list[str]:
    from textwrap import wrap

    # A figure and its unit stay on one line: whoever reads in inches has them turned after the lines are made.
    held = LENGTH_GAP.sub("\N{NO-BREAK SPACE}", text)
    lines = wrap(held, width, initial_indent=indent, subsequent_indent=indent) or [indent]
    return [one.replace("\N{NO-BREAK SPACE}", " ") for one in lines]
