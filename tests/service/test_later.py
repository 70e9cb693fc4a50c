"""Starts set for later: at their time, after a restart, too late, refused, cancelled, under clocks that jump."""

import threading
from datetime import UTC, datetime, timedelta

import pytest
from tests.web.conftest import Bench

from lampwarden.errors import NotNow, ProgramError, UnknownName
from lampwarden.service import PlannedStart, Service
from lampwarden.store.starts import PlannedStarts

from .conftest import PLAN, SHEET, until, yes


def set_start(bench: Bench, after_s: float = 600.0) -> PlannedStart:
    at = bench.clock.utc() + timedelta(seconds=after_s)
    return bench.service.start_later("strips", at, "Wilma", yes())


def state(bench: Bench, start: PlannedStart) -> str:
    return bench.service.planned_start(start.id).state


def said(bench: Bench, kind: str) -> list[str]:
    return [line.text for line in bench.service.last_lines("bench", 50) if line.kind == kind]


def restart(bench: Bench, grace_s: float = 1800.0) -> None:
    """The daemon dies and another one comes up over the same record."""
    bench.service.close()
    bench.daemon()
    bench.service = Service(bench.store, bench.clock, start_grace_s=grace_s)
    bench.service.add(bench.keeper)
    bench.open()


def test_it_starts_at_its_time_with_plan_sheet_and_confirmations(service: Service, bench: Bench) -> None:
    start = set_start(bench)
    assert start.state == "waiting"
    assert said(bench, "start_set") == ["A start of 'Two strips' was set for 2031-03-03 08:10 UTC by Wilma."]
    bench.run(590)
    assert service.sessions("bench") == []
    bench.run(12)
    until(lambda: state(bench, start) == "started")
    (session,) = service.sessions("bench")
    assert service.planned_start(start.id).session_id == session.id
    assert (session.plan_id, session.sheet["id"]) == ("strips", SHEET.id)
    # Begun, with which versions it is made, and each confirmation.
    until(lambda: len(service.journal("bench", session.id)) > 1 + len(yes()))
    lines = service.journal("bench", session.id)
    assert "Wilma, set for 2031-03-03 08:10 UTC" in next(line.text for line in lines if line.kind == "began")
    assert {line.kind for line in lines} >= {"caution_confirmed", "began"}
    until(lambda: said(bench, "start_began") == [f"The start set for 2031-03-03 08:10 UTC began session {session.id}."])


def test_it_survives_a_restart(service: Service, bench: Bench) -> None:
    start = set_start(bench)
    bench.run(300)
    restart(bench)
    assert state(bench, start) == "waiting"
    bench.run(310)
    until(lambda: state(bench, start) == "started")
    assert len(bench.service.sessions("bench")) == 1


@pytest.mark.parametrize(("late_s", "becomes"), [(1700.0, "started"), (1900.0, "missed")])
def test_one_that_was_slept_through_is_made_up_for_only_within_the_grace(
    service: Service, bench: Bench, late_s: float, becomes: str
) -> None:
    start = set_start(bench)
    bench.service.close()
    bench.world.advance(bench.world.now_s + 600.0 + late_s)
    bench.daemon()
    bench.open()
    until(lambda: state(bench, start) != "waiting")
    assert state(bench, start) == becomes
    assert len(bench.service.sessions("bench")) == (becomes == "started")
    assert len(said(bench, "start_missed")) == (becomes == "missed")
    if becomes == "missed":
        assert "not made up for" in bench.service.planned_start(start.id).says
        restart(bench)
        bench.run(5)
        assert state(bench, start) == "missed"
        assert len(said(bench, "start_missed")) == 1


def test_the_grace_can_be_set(service: Service, bench: Bench) -> None:
    start = set_start(bench)
    bench.service.close()
    bench.world.advance(bench.world.now_s + 660.0)
    bench.daemon()
    bench.service = Service(bench.store, bench.clock, start_grace_s=30.0)
    bench.service.add(bench.keeper)
    bench.open()
    until(lambda: state(bench, start) == "missed")


def test_one_that_fails_its_checks_then_lights_nothing_and_says_why(service: Service, bench: Bench) -> None:
    start = set_start(bench)
    bench.world.door(True)
    bench.run(602)
    until(lambda: state(bench, start) == "refused")
    (text,) = said(bench, "start_refused")
    assert "The door is open" in text
    assert service.planned_start(start.id).says == text
    bench.world.door(False)
    bench.run(60)
    assert service.sessions("bench") == []
    assert bench.world.truth.dark


def test_one_that_finds_a_session_under_way_is_refused(service: Service, bench: Bench) -> None:
    start = set_start(bench)
    service.start_plan("strips", "Ida", yes(by="Ida"))
    bench.run(602)
    until(lambda: state(bench, start) == "refused")
    assert "A session is under way" in said(bench, "start_refused")[0]
    assert len(service.sessions("bench")) == 1


def test_a_start_is_cancelled_once(service: Service, bench: Bench) -> None:
    start = set_start(bench)
    service.cancel_start(start.id, "Ida")
    with pytest.raises(NotNow, match="cancelled"):
        service.cancel_start(start.id, "Ida")
    bench.run(700)
    assert state(bench, start) == "cancelled"
    assert service.sessions("bench") == []
    assert "by Ida" in said(bench, "start_cancelled")[0]
    with pytest.raises(UnknownName):
        service.cancel_start(99, "Ida")


def test_what_was_confirmed_is_what_runs(service: Service, bench: Bench) -> None:
    """Neither the plan nor its sheet may change under a start that waits."""
    start = set_start(bench)
    for change in (
        lambda: service.save_plan(PLAN, "Ida", 1),
        lambda: service.remove_plan("strips", "Ida"),
        lambda: service.save_sheet(SHEET, "Ida", 1),
    ):
        with pytest.raises(NotNow, match="Cancel that start first"):
            change()
    service.cancel_start(start.id, "Ida")
    assert service.save_plan(PLAN, "Ida", 1) == 2


def test_a_start_that_could_never_be_is_refused_at_once(service: Service, bench: Bench) -> None:
    soon = bench.clock.utc() + timedelta(hours=1)
    with pytest.raises(NotNow, match="confirm it by name"):
        service.start_later("strips", soon, "Wilma", ())
    for at in (bench.clock.utc(), soon + timedelta(days=61)):
        with pytest.raises(NotNow, match="60 days ahead"):
            service.start_later("strips", at, "Wilma", yes())
    with pytest.raises(ProgramError, match="zone"):
        service.start_later("strips", soon.replace(tzinfo=None), "Wilma", yes())
    with pytest.raises(UnknownName):
        service.start_later("strip", soon, "Wilma", yes())
    assert service.planned_starts("bench") == []


def test_a_clock_set_forward_starts_it_within_a_turn(service: Service, bench: Bench) -> None:
    start = set_start(bench, after_s=7200.0)
    bench.clock.utc_shift = timedelta(seconds=7230)
    bench.run(2)
    until(lambda: state(bench, start) == "started")


def test_a_clock_set_back_waits_for_the_same_hour_and_starts_once(service: Service, bench: Bench) -> None:
    start = set_start(bench)
    bench.run(300)
    bench.clock.utc_shift = timedelta(seconds=-400)
    bench.run(600)
    assert state(bench, start) == "waiting"
    bench.run(120)
    until(lambda: state(bench, start) == "started")
    bench.clock.utc_shift = timedelta(seconds=-4000)
    bench.run(700)
    assert len(service.sessions("bench")) == 1


def test_rung_by_many_at_once_it_begins_one_session(service: Service, bench: Bench) -> None:
    start = set_start(bench)
    service._later.drop(start.id)  # only those below ring
    bench.clock.utc_shift = timedelta(seconds=601)
    rings = [threading.Thread(target=service._ring, args=(start.id,)) for _ in range(8)]
    for each in rings:
        each.start()
    for each in rings:
        each.join()
    assert state(bench, start) == "started"
    assert [session.ended for session in service.sessions("bench")] == [None]


def test_a_start_cancelled_while_it_is_checked_begins_nothing(service: Service, bench: Bench) -> None:
    """Whoever writes first: the session's row and the start's state are one transaction."""
    start = set_start(bench)
    bench.clock.utc_shift = timedelta(seconds=601)
    PlannedStarts(bench.store).settle(
        start.id, "cancelled", "Ida", service._line("bench", "start_cancelled", "Ida", {})
    )
    with service._starting:
        assert service._due(start) is None, "as it was read a moment before"
    assert service.sessions("bench") == []
    assert state(bench, start) == "cancelled"
    assert said(bench, "start_refused") == []


def test_a_daemon_that_just_came_up_waits_for_its_board(service: Service, bench: Bench) -> None:
    start = set_start(bench)
    bench.service.close()
    bench.world.advance(bench.world.now_s + 630.0)
    bench.rig.wire.plugged = False
    bench.daemon()
    bench.open()
    bench.run(5)
    assert state(bench, start) == "waiting"
    bench.rig.wire.plugged = True
    bench.run(10)
    until(lambda: state(bench, start) == "started")


def test_times_are_kept_in_utc(service: Service, bench: Bench) -> None:
    at = datetime(2031, 3, 3, 22, 0, tzinfo=UTC).astimezone()
    assert service.start_later("strips", at, "Wilma", yes()).at_utc == "2031-03-03T22:00:00.000Z"
