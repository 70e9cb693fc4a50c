"""What a person may order: pause, stop, continue, end. A wrong order is refused and changes nothing."""

import pytest

from lampwarden.domain.program import Exposure
from lampwarden.engine import events as e
from lampwarden.engine import facts as f

MINUTE = Exposure(start=0, end=60)


def test_a_stopped_board_stays_disarmed_until_light_is_wanted_again(run_of):
    run = run_of(MINUTE).go(10)
    run.board.armed = False  # the keeper disarms at a stop, before anything else
    run.order(e.AskHold, stop=True)
    run.go(30)
    assert not run.board.armed
    run.order(e.AskContinue)
    run.go(2)
    assert run.board.armed
    run.go(100)
    assert run.board.true_lit_s[0] == pytest.approx(60, abs=0.1)


def test_pause_and_continue(run_of):
    run = run_of(MINUTE).go(10)
    outcome = run.order(e.AskHold)
    assert outcome.demand.dark
    assert run.session.holds[0].why == "Paused by Ana."
    run.go(600)
    assert run.holds() == {"operator": True}
    assert run.order(e.AskContinue).demand.zone_levels == (1.0,)


def test_a_stop_says_that_it_was_one(run_of):
    run = run_of(MINUTE).go(10)
    run.order(e.AskHold, stop=True)
    assert run.session.holds[0].why == "Stopped by Ana; the lamps went dark at once."


def test_a_stop_of_a_paused_session_is_in_the_journal_once(run_of):
    run = run_of(MINUTE).go(10)
    run.order(e.AskHold)
    for _ in range(3):
        run.order(e.AskHold, stop=True)
    assert [fact.why for fact in run.of(f.HoldWaits)] == ["Stopped by Ana; the lamps went dark at once."]
    assert run.holds() == {"operator": True}


def test_the_same_order_twice_changes_nothing_more(run_of):
    run = run_of(MINUTE).go(10)
    run.order(e.AskHold)
    once = run.session
    assert run.order(e.AskHold).facts == ()
    assert run.session == once
    run.order(e.AskContinue)
    assert "the session is running" in run.refused(e.AskContinue)
    assert "'begin' means nothing while the session is running" in run.refused(e.Begin)
    run.order(e.AskEnd)
    assert "about to end" in run.refused(e.AskEnd)
    run.read()
    assert "ended" in run.refused(e.AskEnd)


def test_nothing_but_a_begin_before_the_begin(make_run, chamber_of, program_of):
    run = make_run(program_of(MINUTE), chamber_of(1))
    for order, *more in (
        (e.AskHold,),
        (e.AskContinue,),
        (e.AskEnd,),
        (e.Answer, "x"),
        (e.ChangePlan, program_of(MINUTE)),
    ):
        assert run.refused(order, *more)
    run.read()
    run.board.wire = False
    run.read()
    assert run.session == run.planned


def test_a_program_that_does_not_fit_cannot_begin(make_run, chamber_of, program_of):
    run = make_run(program_of(MINUTE, MINUTE), chamber_of(1))
    assert run.refused(e.Begin) == "The chamber has no zone 'B'; its zones are A."
