"""One string as it is typed on a form: its note, gauge and make, and that a person said they are right."""

from collections.abc import Mapping
from typing import Any

from breakangle.model.errors import CorrectInputError
from breakangle.model.instrument import String
from breakangle.model.words.speech import tr
from breakangle.model.words.unit_said import AS_TOLD
from breakangle.reference.strings import make, makes
from breakangle.services.intake.instrument_boxes import YES
from breakangle.services.typed_values.sizes import SAME_MM, gauge_mm

# Of a wound string's diameter, or so: only to tell the unit of a core that was typed bare. Common practice, no source.
CORE_SHARE = 0.4
SIZES = ("make", "diameter_mm", "core_mm", "wrap")
MEASURED = ("unit_mass_g_per_m", "axial_stiffness_n", "bending_stiffness_n_mm2")


def string_typed(
    usual: String, typed: Mapping[str, str], own_unit: str, problems: list[str]
) -> dict[str, Any]:
    """Return one string; its course and a short string's own nut are as they are in `usual`."""
    number = usual.string
    before = usual.model_dump(mode="json", exclude_unset=True)
    found = {name: value for name, value in before.items() if name != "core_mm"}
    found["note"] = typed.get(f"note_{number}", "").strip() or found["note"]
    found["make"] = typed.get(f"make_{number}", found["make"])
    near = {"gauge": usual.diameter_mm, "core": usual.core_mm or CORE_SHARE * usual.diameter_mm}
    for key, name in (("diameter_mm", "gauge"), ("core_mm", "core")):
        text = typed.get(f"{name}_{number}", "").strip()
        if not text:
            problems += [tr("string {number} has no gauge", number=number)] if name == "gauge" else []
            continue
        try:
            mm = round(gauge_mm(text, own_unit, near[name]), 4)
            was = before.get(key)
            found[key] = was if was is not None and abs(mm - was) < SAME_MM else mm
        except CorrectInputError as cause:
            problems.append(
                tr(
                    "{name} of string {number}: {cause}",
                    name=name,
                    number=number,
                    cause=str(cause).rstrip("."),
                )
            )
    if f"wrap_{number}" in typed:
        wrap = typed[f"wrap_{number}"].strip()
        found.pop("wrap", None)
        if wrap:
            found["wrap"] = wrap
    if found["make"] in makes() and not make(found["make"]).wound:
        found = {name: value for name, value in found.items() if name not in ("core_mm", "wrap")}
    if any(found.get(name) != before.get(name) for name in SIZES):
        # What was measured of the string as it was told before does not hold for another one.
        found = {name: value for name, value in found.items() if name not in MEASURED}
    return found | _said_so(before, found, typed.get(f"{AS_TOLD}_{number}"), number, problems)


def _said_so(
    before: Mapping[str, Any], found: dict[str, Any], said: str | None, number: int, problems: list[str]
) -> dict[str, Any]:
    """Return the mark of a string whose note and gauge a person said are right; another string loses it."""
    kept = found.pop(AS_TOLD, False) and all(found.get(one) == before.get(one) for one in ("note", *SIZES))
    if said is not None and said.strip() not in ("", YES):
        problems.append(
            tr(
                'string {number} as it is told: "{said}"; it must be {yes}, or nothing',
                number=number,
                said=said.strip()[:20],
                yes=YES,
            )
        )
    return {AS_TOLD: True} if (kept if said is None else said.strip() == YES) else {}
