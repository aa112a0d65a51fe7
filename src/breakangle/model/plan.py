"""What the planner answers: steps, and the state now and then, in the form `breakangle/plan/1`."""

from typing import Annotated, Any, Final, Literal

from pydantic import SerializeAsAny, model_serializer

from breakangle.model.noun import Noun
from breakangle.model.reading import Adjustment, Reading
from breakangle.model.service import Targets

PLAN_FORMAT: Final = "breakangle/plan/1"
Verdict = Literal["leave", "adjust", "beyond-setup"]


class Step(Noun):
    """One adjustment to make, why, with what care, and what should be read afterwards."""

    adjustment: SerializeAsAny[Adjustment]
    reason: str
    caution: tuple[str, ...] = ()
    screw: str | None = None
    expect: tuple[SerializeAsAny[Reading], ...] = ()

    @model_serializer(mode="plain")
    def _flat(self) -> dict[str, Any]:
        """Write the adjustment's own keys beside the reason, as the form asks."""
        flat = self.adjustment.model_dump(exclude_none=True, exclude_unset=True)
        flat |= {"reason": self.reason, "caution": list(self.caution)}
        if self.screw is not None:
            flat["screw"] = self.screw
        return flat | {
            "expect": [one.model_dump(exclude_none=True, exclude_unset=True) for one in self.expect]
        }


class Response(Noun):
    """One learned response of this instrument: its value with the standard uncertainty."""

    name: str
    words: str
    value: float
    uncertainty: float
    unit: str


class Solved(Noun):
    """A state as it reads: every figure that targets speak of, and the responses, with uncertainty."""

    readings: tuple[SerializeAsAny[Reading], ...]
    responses: tuple[Response, ...] = ()


class Plan(Noun):
    """The answer to one service."""

    format: Literal["breakangle/plan/1"] = PLAN_FORMAT
    verdict: Verdict
    steps: tuple[Step, ...]
    now: Solved
    then: Solved
    targets: Targets
    notes: tuple[str, ...]
    # Figures so near the edge of their tolerance that they are worth reading twice before a thing is touched.
    read_again: tuple[SerializeAsAny[Reading], ...] = ()
    # What one more reading would tell most, if anything is still open.
    read_next: Annotated[SerializeAsAny[Reading] | None, "the most telling further reading"] = None

    def model_post_init(self, context: Any, /) -> None:
        """Count the format as given, so that it is always written."""
        del context
        self.model_fields_set.add("format")

    def text(self) -> str:
        """Return the plan as JSON (`breakangle/plan/1`), without keys that say nothing."""
        return self.model_dump_json(indent=2, exclude_none=True, exclude_unset=True) + "\n"
