"""Plans worked out in a process of their own: the same plans, and made all the same where that process breaks off."""

import json
import os
import pickle
import signal

import pytest

from breakangle.model.errors import ChooseAnotherFileError, ReadAgainError
from breakangle.planning.estimate.estimate import estimate
from breakangle.reference.families import family
from breakangle.services.plans.apart import PLANNER, _planned, made_plan
from breakangle.services.service_files.example import empty_service, example_service
from breakangle.services.service_files.service import service_from
from breakangle.services.workers.lasting import BrokeOffError, Lasting
from breakangle.services.workers.process import in_process, worker_context
from breakangle.services.workers.queue import Queue

PLANNED = 4


@pytest.fixture(autouse=True)
def apart(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(Queue, "apart", True)
    yield
    PLANNER.end()


def test_plans_are_the_same_there_as_here(monkeypatch: pytest.MonkeyPatch):
    service = example_service()
    readings = service.readings
    for left in range(PLANNED):
        kept = service.model_copy(update={"readings": readings[left * 3 :]})
        now = estimate(kept)
        there = made_plan(kept, now)
        with monkeypatch.context() as patched:
            patched.setattr(Queue, "apart", False)
            assert made_plan(kept, now).model_dump_json() == there.model_dump_json(), left


def test_plan_is_made_here_where_its_process_breaks_off(monkeypatch: pytest.MonkeyPatch):
    service = example_service()
    there = made_plan(service, estimate(service))

    def broken(*_: object) -> None:
        raise BrokeOffError("killed")

    monkeypatch.setattr(PLANNER, "run", broken)
    assert made_plan(service, estimate(service)).model_dump_json() == there.model_dump_json()


def test_the_plan_of_a_service_with_wishes_of_its_own_goes_from_process_to_process():
    """What a file holds is of classes made in each process, which cannot be sent to another."""
    text = empty_service(family("ukulele-concert"), "Wren").model_dump_json()
    asked = json.loads(text) | {"targets": {"hand": "light"}}
    service = service_from(json.dumps(asked).encode(), "service file")
    there = pickle.loads(
        pickle.dumps(_planned(service.model_dump_json(exclude_unset=True), estimate(service), (), None))
    )
    assert there.targets.hand == "light"
    assert there.targets.wanted


def test_work_that_breaks_off_is_told_and_the_next_is_done():
    planner = Lasting(most_mb=256, longest_s=30.0)
    try:
        first = planner.run(os.getpid)
        assert first not in (0, os.getpid())
        assert planner.run(os.getpid) == first  # it lasts
        with pytest.raises(BrokeOffError):
            planner.run(os.kill, first, signal.SIGKILL)
        second = planner.run(os.getpid)
        assert second not in (first, os.getpid())
        with pytest.raises(ReadAgainError, match="no instrument"):
            planner.run(refuse)
        with pytest.raises(BrokeOffError):
            planner.run(take, 10**9)
    finally:
        planner.end()


def test_work_that_takes_too_long_is_ended():
    planner = Lasting(most_mb=256, longest_s=0.5)
    try:
        with pytest.raises(BrokeOffError, match=r"0\.5 s"):
            planner.run(signal.pause)
    finally:
        planner.end()


def refuse() -> None:
    raise ReadAgainError("no instrument fits", "", "read again")


def take(size: int) -> int:
    return len(bytes(size))


def test_process_that_cannot_be_begun_is_told_and_the_next_is_begun_anew(monkeypatch: pytest.MonkeyPatch):
    """What all are forked from may end just then, as when the server is told to end."""
    context = worker_context()

    def gone(*_: object) -> None:
        raise EOFError("unexpected EOF")

    one = Lasting(512, 60.0)
    with monkeypatch.context() as patched:
        patched.setattr(context.Process, "start", gone)
        with pytest.raises(BrokeOffError):
            one.run(abs, -3)
        with pytest.raises(ChooseAnotherFileError, match="broke off"):
            in_process(abs, (-3,), 512, 60.0)
    assert one.run(abs, -3) == 3
    one.end()
