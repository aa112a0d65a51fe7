"""The fields of a kind's house targets: the hand, and a box for each figure under the figure's own name."""

from collections.abc import Mapping

from breakangle.services.workshop.house_targets import FIGURES


def house_targets_form(typed: Mapping[str, str]) -> tuple[str, dict[str, str]]:
    """Return the hand that was chosen, and what was typed for each figure."""
    return typed.get("hand", ""), {name: typed[name] for name in FIGURES if name in typed}
