"""One string of an instrument, and the sizes that a neck has room for."""

from typing import Annotated, Self

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from breakangle.model.pitch import NOTE_PATTERN
from breakangle.model.words.noun import Between, FretNumber, Noun, StringNumber
from breakangle.model.words.speech import tr

# Chosen: bounds of what can be meant.
LEAST_FRETS, LEAST_JOINT_FRET = 5, 4  # below that there is no neck to set up
SCALE_MM = Between(200.0, 1300.0, "mm")
ScaleMm = Annotated[float, SCALE_MM]
DiameterMm = Annotated[float, Between(0.1, 6.0, "mm")]


class String(Noun):
    """One string: its place, open note, make and size; measured constants win over computed ones."""

    string: StringNumber
    note: Annotated[str, Field(pattern=NOTE_PATTERN)]
    make: Annotated[str, Field(min_length=1, max_length=60)]
    diameter_mm: DiameterMm
    core_mm: DiameterMm | None = None
    wrap: Annotated[str, Field(min_length=1, max_length=60)] | None = None
    scale_mm: ScaleMm | None = None
    course: StringNumber | None = None
    nut_at_fret: FretNumber = 0
    unit_mass_g_per_m: Annotated[float, Between(0.01, 100.0, "g/m")] | None = None
    axial_stiffness_n: Annotated[float, Between(10.0, 1e6, "N")] | None = None
    bending_stiffness_n_mm2: Annotated[float, Between(0.0, 1e6, "N·mm²")] | None = None

    @model_validator(mode="after")
    def _core_inside_winding(self) -> Self:
        if self.core_mm is not None and self.core_mm >= self.diameter_mm:
            allowed = tr(
                "a number below the string's diameter, {diameter_mm:g} mm", diameter_mm=self.diameter_mm
            )
            raise PydanticCustomError("at", tr("must be {allowed}"), {"allowed": allowed, "key": "core_mm"})
        return self
