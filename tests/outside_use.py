"""What a program outside the package writes, for the type checker alone: `mypy` checks it strictly with the rest.

Each `type: ignore` holds that a mistake is seen: one that is not needed is itself an error.
"""

from pathlib import Path
from typing import assert_type

import numpy as np
from numpy.typing import NDArray

import breakangle as ba


def a_day_at_the_bench(path: Path, recording: bytes, samples: NDArray[np.float64]) -> list[str]:
    """Use every public name as its types allow."""
    service = assert_type(ba.read_service(path), ba.Service)
    assert_type(service.instrument, ba.Instrument)
    plan = assert_type(ba.plan(service, hand="heavy", earlier=[service]), ba.Plan)
    state: ba.State = ba.estimate(service)
    board: ba.Prediction = ba.predict(service, after=plan)
    assert_type(board.clearance_mm, NDArray[np.float64])
    touched: ba.BuzzMap = ba.buzz(service, "light")
    low: ba.LowestSetup = ba.lowest(service, margin_mm=0.03)
    takes: list[ba.Takes] = [
        ba.listen(recording),
        ba.listen(samples, 48_000, service=service),
        ba.listen(path),
    ]
    readings: tuple[ba.Reading, ...] = takes[0].readings
    more = ba.add_readings(ba.example_service("bass-four"), readings)
    ba.write_service(path, more)
    try:
        ba.plan(more)
    except ba.BreakangleError as error:
        return [error.given]
    return [plan.verdict, *state.surprises, str(touched.heard.sum()), str(low.relief_mm)]


def mistakes(service: ba.Service) -> None:
    """Make the mistakes that types are there for."""
    ba.plan("service.json")  # type: ignore[arg-type]
    ba.buzz(service, "loud")  # type: ignore[arg-type]
    ba.plan(service, strength="heavy")  # type: ignore[call-arg]
    ba.no_such_name(service)  # type: ignore[attr-defined]
