"""What every noun shares: frozen, strict, unknown keys kept, numbers with a range and a unit."""

import math
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from breakangle.model.words.speech import tr


class Noun(BaseModel):
    """A frozen, checked object of the bench; keys it does not know are kept as they came."""

    model_config = ConfigDict(frozen=True, extra="allow")


@dataclass(frozen=True)
class Between:
    """A number from `low` to `high` (both allowed) in `unit`; refuses NaN, infinity, true and text."""

    low: float
    high: float
    unit: str
    whole: bool = False

    def words(self) -> str:
        """Return the allowed range in words, with its unit."""
        kind = tr("a whole number") if self.whole else tr("a number")
        unit = f" {self.unit}" if self.unit else ""
        return tr("{kind} from {low:g} to {high:g}{unit}", kind=kind, low=self.low, high=self.high, unit=unit)

    def check(self, value: Any) -> float | int:
        """Return `value` as a number in range.

        Raises:
            PydanticCustomError: of type `between`, with the allowed range in words.
        """
        number = isinstance(value, int | float) and not isinstance(value, bool)
        # A whole number too large for a float cannot be tested with isfinite.
        finite = number and (isinstance(value, int) or math.isfinite(value))
        if not finite or not self.low <= value <= self.high or (self.whole and value != int(value)):
            context = {"allowed": self.words(), "low": self.low, "high": self.high, "unit": self.unit}
            raise PydanticCustomError("between", tr("must be {allowed}"), context)
        return int(value) if self.whole else float(value)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Check with `check` alone, so that every wrong number gives the same kind of sentence."""
        del source, handler
        return core_schema.no_info_plain_validator_function(
            self.check, serialization=core_schema.plain_serializer_function_ser_schema(lambda value: value)
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Publish the range and the unit."""
        del schema, handler
        kind = "integer" if self.whole else "number"
        return {"type": kind, "minimum": self.low, "maximum": self.high, "x-unit": self.unit}


StringNumber = Annotated[int, Between(1, 18, "", whole=True)]
FretNumber = Annotated[int, Between(0, 36, "", whole=True)]
UncertaintyMm = Annotated[float, Between(0.001, 5.0, "mm")]
UncertaintyCents = Annotated[float, Between(0.01, 100.0, "cents")]
