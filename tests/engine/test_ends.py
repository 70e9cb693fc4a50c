"""A session ends once: completed, ended by a person, or cut off. Then it is dark for good and takes only notes."""

import pytest

from lampwarden.domain.program import Exposure
from lampwarden.engine import Phase
from lampwarden.engine import events as e
from lampwarden.engine import facts as f

MINUTE = Exposure(start=0, end=60)


def complete(run):
    run.go(200)


def end(run):
    run.go(20)
    run.order(e.AskEnd, "The vermilion rule bleeds")


def cut_off(run):
    run.go(20)
    run.board.set_trip("bank over its limit")
    run.go(1)


ENDS = {
    "completed": (complete, "All exposures and checkpoints are done."),
    "ended by person": (end, "Ended by Ana: The vermilion rule bleeds."),
    "cut off": (cut_off, "The board cut the light off: bank over its limit."),
}


@pytest.mark.parametrize("outcome", ENDS)
def test_the_three_ends(run_of, outcome):
    run = run_of(MINUTE)
    way, cause = ENDS[outcome]
    way(run)
    assert (run.session.outcome, run.session.cause) == (outcome, cause)
    assert run.session.phase is Phase.ENDED
    assert not run.lit
    ended = run.of(f.Ended)
    assert [fact.lit_s for fact in ended] == [run.session.lit_s]
    assert ended[0].text == f"Session {outcome}: {cause}"
    assert run.outcome.wake_s is None
    assert not run.outcome.arm


@pytest.mark.parametrize("outcome", ENDS)
def test_nothing_begins_after_the_end(run_of, program_of, outcome):
    run = run_of(MINUTE)
    ENDS[outcome][0](run)
    ended = run.session
    for order, *more in (
        (e.Begin,),
        (e.AskHold,),
        (e.AskContinue,),
        (e.AskEnd,),
        (e.Answer, "look"),
        (e.ChangePlan, program_of(MINUTE)),
    ):
        assert run.refused(order, *more)
    run.board.trip = ""
    run.board.armed = True
    run.pass_time(5)
    run.read()
    run.board.wire = False
    run.pass_time(5)
    run.read()
    assert run.session == ended
    assert not run.lit


def test_ended_in_a_hold(run_of):
    run = run_of(MINUTE).go(20)
    run.board.set_door(True)
    run.go(2)
    run.order(e.AskEnd)
    assert run.session.outcome == "ended by person"
    assert run.holds() == {}


def test_not_completed_while_a_hold_stands(run_of):
    run = run_of(MINUTE).go(59.5)
    run.pass_time(0.5)
    run.order(e.AskHold)
    run.go(10)
    assert run.session.phase is Phase.HELD
    assert run.session.exposure == (1,)
    outcome = run.order(e.AskContinue)
    assert outcome.session.outcome == "completed"
