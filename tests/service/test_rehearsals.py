"""Rehearsals in a process of their own."""

import multiprocessing

import pytest

from lampwarden.domain.program import Rehearsal as About
from lampwarden.errors import NotNow, ProgramError, UnknownName
from lampwarden.service import Service

from .conftest import PLAN, PROGRAM, until


def test_a_saved_plan_is_rehearsed_to_its_end(service: Service) -> None:
    begun = service.rehearse("strips", "Wilma")
    assert (begun.state, begun.chamber_id, begun.title) == ("running", "bench", "Two strips")
    with pytest.raises(NotNow, match="'Two strips' is being rehearsed for Wilma"):
        service.rehearse(PLAN, "Ida")
    until(lambda: service.rehearsal(begun.id).state != "running")
    done = service.rehearsal(begun.id)
    assert (done.state, done.share, done.error) == ("done", 1.0, "")
    assert done.result is not None
    assert done.result.outcome == "completed"
    assert done.result.zones[0].true_lit_s == pytest.approx(600, abs=3)
    assert done.result.zones[0].dose_j_cm2 == pytest.approx(6.0, abs=0.05)
    assert done.result.holds_s[0][0] == "checkpoint"
    assert done.result.air_temp_c_max > 22
    assert done.result.journal[0][1] == "began"
    assert service.sessions("bench") == [], "nothing of it reaches the record"


def test_one_under_way_is_cancelled_and_another_may_begin(service: Service) -> None:
    long = PLAN.model_copy(update={"program": PROGRAM.model_copy(update={"zones": (_day(),)})})
    begun = service.rehearse(long, "Wilma")
    service.cancel_rehearsal(begun.id)
    assert service.rehearsal(begun.id).state == "cancelled"
    again = service.rehearse((PROGRAM, service.chamber("bench")), "Ida")
    service.cancel_rehearsal(again.id)
    service.cancel_rehearsal(again.id)
    until(lambda: not any(child.name.startswith("rehearsal") for child in multiprocessing.active_children()))
    with pytest.raises(UnknownName):
        service.rehearsal("r9")


def _day():
    return PROGRAM.zones[0].model_copy(
        update={"exposures": (PROGRAM.zones[0].exposures[0].model_copy(update={"end_s": 86400.0}),)}
    )


def test_what_cannot_be_rehearsed_says_why(service: Service) -> None:
    foreign = PROGRAM.model_copy(update={"zones": (PROGRAM.zones[0].model_copy(update={"zone": "Z9"}),)})
    with pytest.raises(ProgramError, match="no zone 'Z9'"):
        service.rehearse((foreign, service.chamber("bench")), "Wilma")
    hot = PROGRAM.model_copy(update={"rehearsal": About(ambient_c=60.0)})
    begun = service.rehearse((hot, service.chamber("bench")), "Wilma")
    until(lambda: service.rehearsal(begun.id).state == "failed")
    assert "not below the soft limit" in service.rehearsal(begun.id).error


def test_a_process_that_dies_is_told(service: Service) -> None:
    begun = service.rehearse(PLAN.model_copy(update={"program": PROGRAM.model_copy(update={"zones": (_day(),)})}), "W")
    name = f"rehearsal-{begun.id}"
    until(lambda: sum(child.name == name for child in multiprocessing.active_children()) == 1)  # others end yet
    (child,) = (child for child in multiprocessing.active_children() if child.name == name)
    child.kill()
    until(lambda: service.rehearsal(begun.id).state == "failed")
    assert "broke off" in service.rehearsal(begun.id).error
