"""A session ends once: completed, ended by a person, or cut off. Then it is dark for good and takes only notes."""

import pytest

from lampwarden.domain.program import Exposure
from lampwarden.engine import Phase
from lampwarden.engine import events as e
from lampwarden.engine import facts as f
from lampwarden.engine import holds as h

MINUTE = Exposure(start=0, end=60)


def complete(run):
    run.go(200)


def end(run):
    run.go(20)
    run.order(e.AskEnd, "The vermilion rule bleeds")
    run.read()


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
    run.read()
    assert run.session.outcome == "ended by person"
    assert run.holds() == {}


def test_the_light_up_to_the_end_is_booked(run_of):
    """Up to a period of light fell since the last reading: it is read once the lamps are dark."""
    run = run_of(MINUTE).go(20)
    run.pass_time(0.8)
    outcome = run.order(e.AskEnd)
    assert outcome.demand.dark
    assert outcome.wake_s == pytest.approx(0.05)
    assert run.session.active
    run.pass_time(0.05)
    run.read()
    assert run.session.outcome == "ended by person"
    assert run.of(f.Ended)[0].lit_s[0] == pytest.approx(20.8, abs=0.002)
    assert run.board.true_lit_s[0] == pytest.approx(20.8)


@pytest.mark.parametrize("late_s", [0.05, 2.5])
def test_session_time_stands_while_the_last_reading_is_waited_for(run_of, late_s):
    """A busy host may come late for it; the plan is over all the same."""
    run = run_of(MINUTE).until(lambda run: run.session.ending is not None)
    before_s = run.session.session_s
    run.pass_time(late_s)
    run.read()
    assert run.session.outcome == "completed"
    assert run.session.session_s == before_s == pytest.approx(60, abs=0.06)


def test_session_time_stands_while_an_end_waits_for_a_lost_board(run_of):
    run = run_of(MINUTE).go(20)
    run.order(e.AskEnd)
    run.board.wire = False
    run.go(8)
    run.board.wire = True
    run.go(1)
    assert run.session.outcome == "ended by person"
    assert run.session.session_s == pytest.approx(20, abs=0.1)


def test_an_end_waits_until_the_board_is_dark(run_of):
    run = run_of(MINUTE).go(20)
    run.board.obeys = False
    run.order(e.AskEnd)
    run.go(2)
    assert run.session.active
    run.board.obeys = True
    run.go(2)
    assert run.session.outcome == "ended by person"
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)


def test_an_end_waits_ten_seconds_for_a_lost_board(run_of):
    run = run_of(MINUTE).go(20)
    run.order(e.AskEnd)
    run.board.wire = False
    run.go(h.END_S_MAX - 1)
    assert run.session.active
    assert not run.lit
    run.go(2)
    assert run.session.outcome == "ended by person"
    assert run.session.cause == (
        "Ended by Ana. The board could not be read in the dark any more; the light after its last reading is not"
        " booked."
    )


def test_a_board_that_is_back_in_time_tells_what_fell(run_of):
    run = run_of(MINUTE).go(20)
    run.board.wire = False
    run.order(e.AskEnd)
    run.go(6)
    run.board.wire = True
    run.go(1)
    assert run.session.cause == "Ended by Ana."
    assert run.session.lit_s[0] == pytest.approx(23, abs=0.01)
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)


@pytest.mark.parametrize("gap_s", [5, 3600])
def test_a_daemon_killed_between_the_order_and_the_end_ends_all_the_same(run_of, gap_s):
    run = run_of(MINUTE).go(20)
    run.pass_time(0.5)
    run.order(e.AskEnd)
    run.crash(gap_s)
    assert not run.lit
    run.board.wire = False
    run.go(3)
    assert run.session.active
    run.board.wire = True
    run.go(1)
    assert run.session.outcome == "ended by person"
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)


def test_nothing_but_notes_while_it_ends(run_of, program_of):
    run = run_of(MINUTE).go(20)
    run.order(e.AskEnd)
    for order, *more in ((e.AskHold,), (e.AskContinue,), (e.ChangePlan, program_of(MINUTE)), (e.Answer, "look")):
        assert run.refused(order, *more)
    run.board.set_door(True)
    run.order(e.Annotate, "It smells of vinegar.")
    run.read()
    assert run.session.outcome == "ended by person"
    assert run.of(f.HoldBegan) == []


def test_not_completed_while_a_hold_stands(run_of):
    run = run_of(MINUTE).go(59.5)
    run.pass_time(0.5)
    run.order(e.AskHold)
    run.go(10)
    assert run.session.phase is Phase.HELD
    assert run.session.exposure == (1,)
    run.order(e.AskContinue)
    assert run.read().session.outcome == "completed"
