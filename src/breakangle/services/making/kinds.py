"""What a making sheet must bring: one file in `jobs/` that shows a JOB; its options become forms, verbs and words."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from breakangle.documents.true_size.kinds import Option, Value
from breakangle.documents.true_size.registry import template_kind
from breakangle.model.errors import CorrectInputError
from breakangle.model.service import Service
from breakangle.model.words.said import figured
from breakangle.model.words.speech import tr
from breakangle.reference.families import Family


@dataclass(frozen=True)
class Paper:
    """A template at true size that goes with a sheet, by its name, with what the sheet chose of it."""

    template: str
    chosen: Mapping[str, Any]

    def text(self) -> dict[str, str]:
        """Return what was chosen as it is given to a template: lengths with their unit, whoever works in which."""
        forms = {one.name: one.form for one in template_kind(self.template).options}
        return {name: _given(value, forms[name]) for name, value in self.chosen.items()}


def _given(value: Any, form: str) -> str:
    if form == "lengths":
        return ";".join(_given(one, "length") for one in value)
    if form == "length":
        return f"{float(value):.4f} mm"
    return f"{value:g}" if isinstance(value, float) else str(value)


@dataclass(frozen=True)
class MakingSheet:
    """What a job comes to: `lead` is the answer in one sentence, `facts` names and values, `rows` a table.

    Lengths stand as `1.40 mm`, for whoever shows them to write in their own unit. The first `named` columns say what a
    row is of. `rests_on` says what it was worked out from; `dangers` name what can hurt (reference/data/dangers.toml).
    `figures` are the same as plain numbers; `papers` the templates at true size that go with it.
    """

    title: str
    lead: str
    facts: tuple[tuple[str, str], ...]
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    named: int = 1
    rests_on: tuple[str, ...] = ()
    dangers: tuple[str, ...] = ()
    figures: Mapping[str, Any] | None = None
    papers: tuple[Paper, ...] = ()

    @property
    def applies(self) -> bool:
        """Return whether the kind of instrument has what the sheet is about."""
        return (self.figures or {}).get("applies", True) is not False


def on_any_kind(family: Family) -> bool:
    """Return that every kind of instrument has what a job is about."""
    del family
    return True


@dataclass(frozen=True)
class Job:
    """A making job: its name, what it is called, what it tells, what may be chosen, and how it is reckoned."""

    name: str
    words: str
    told: str
    reckon: Callable[[Service, Mapping[str, Any]], MakingSheet]
    options: tuple[Option, ...]
    # The procedure that has its steps; none where the sheet is all there is to it.
    procedure: str = ""
    # The findings of a plan that lead to it, by name.
    findings: tuple[str, ...] = ()
    # Whether a kind of instrument has what it is about, as a rule.
    usual_on: Callable[[Family], bool] = on_any_kind

    def sheet(
        self, service: Service, given: Mapping[str, Any] | None = None, own_unit: str = "mm"
    ) -> MakingSheet:
        """Return the sheet for the service's instrument, with what was chosen and the usual rest.

        Lengths given without a unit are in `own_unit`.

        Raises:
            CorrectInputError: no such option, or a value it cannot have.
        """
        known = {one.name: one for one in self.options}
        for name in given or {}:
            if name not in known:
                raise CorrectInputError(
                    tr('"{name}" is nothing to choose of {words}', name=name, words=self.words),
                    tr("one of {known}", known=", ".join(known)),
                    "",
                )
        values: dict[str, Value] = {
            name: one.read(given[name], own_unit) if given and name in given else one.usual_for(own_unit)
            for name, one in known.items()
        }
        return self.reckon(service, values)


def mm(value: float) -> str:
    """Return a length as it stands on a sheet."""
    return f"{figured(value, 2)} mm"
