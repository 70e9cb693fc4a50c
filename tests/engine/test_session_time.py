"""Session time runs only while nothing holds, and never by more light than fell."""

import pytest

from lampwarden.domain.program import Exposure
from lampwarden.engine import events as e


def test_lowering_a_level_between_readings_does_not_speed_session_time(run_of, program_of):
    run = run_of(Exposure(start=0, end=10), Exposure(start=0, end=600)).go(10)
    run.pass_time(0.6)
    plan = program_of([Exposure(start=0, end=10), Exposure(start=10, end=500, level=0.01)], Exposure(start=0, end=600))
    run.order(e.ChangePlan, plan)
    before_s = run.session.session_s
    run.pass_time(0.4)
    run.read()
    assert run.session.session_s - before_s <= 1.0
    run.pass_time(1.0)
    run.read()
    assert run.session.session_s - before_s == pytest.approx(2.0, abs=0.1)


def test_two_changes_and_a_hold_between_readings(run_of, program_of):
    run = run_of(Exposure(start=0, end=600)).go(10)
    run.pass_time(0.3)
    ends_now = Exposure(start=0, end=run.session.session_s)
    run.order(e.ChangePlan, program_of([ends_now, Exposure(start=ends_now.end_s, end=600, level=0.001)]))
    run.pass_time(0.3)
    run.order(e.AskHold)
    run.pass_time(0.4)
    run.read()
    assert run.session.session_s <= run.now_s


def test_a_host_that_stalls_shortens_nothing(run_of):
    run = run_of(Exposure(start=0, end=60)).go(10)
    run.pass_time(40)  # the board went dark after its heartbeat timeout
    run.read()
    assert run.session.session_s == pytest.approx(13, abs=0.1)
    run.go(100)
    assert run.board.true_lit_s[0] == pytest.approx(60, abs=0.1)
