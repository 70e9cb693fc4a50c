"""The door: dark while open, and a person says when the sheet lies right."""

import pytest

from lampwarden.domain.program import Checkpoint, Exposure, Rules
from lampwarden.engine import events as e
from lampwarden.engine import facts as f

HOUR = Exposure(start=0, end=3600)


def test_open_closed_and_continued(run_of):
    run = run_of(HOUR).go(10)
    run.board.set_door(True)
    run.go(5)
    assert run.holds() == {"door": False}
    assert run.session.holds[0].why == "The door is open."
    assert "The door is open." in run.refused(e.AskContinue)
    run.board.set_door(False)
    run.go(60)
    assert run.holds() == {"door": True}
    assert not run.lit
    run.order(e.AskContinue)
    run.go(1)
    assert run.lit


def test_opened_between_two_readings(run_of):
    run = run_of(HOUR).go(10)
    run.board.set_door(True)
    run.board.set_door(False)
    run.go(1)
    assert run.holds() == {"door": True}
    assert [hold.why for hold in run.of(f.HoldBegan)] == ["The door was opened for a moment."]


def test_the_count_of_openings_may_wrap(run_of):
    run = run_of(HOUR)
    run.board.door_openings = 65535
    run.go(1)
    run.order(e.AskContinue)
    run.go(5)
    run.board.door_openings = 0
    run.go(1)
    assert run.holds() == {"door": True}


def test_a_reboot_is_not_an_opening(run_of):
    run = run_of(HOUR)
    run.board.set_door(True)
    run.board.set_door(False)
    run.go(1)
    run.order(e.AskContinue)
    run.go(5)
    run.board.reboot()
    run.go(3)
    assert run.holds() == {}


def test_openings_before_the_session_do_not_count(make_run, chamber_of, program_of):
    run = make_run(program_of(HOUR), chamber_of(1))
    run.board.set_door(True)
    run.board.set_door(False)
    run.begin().go(3)
    assert run.lit


def test_opened_again_while_it_waits(run_of):
    run = run_of(HOUR).go(10)
    for _ in range(3):
        run.board.set_door(True)
        run.go(3)
        assert run.holds() == {"door": False}
        run.board.set_door(False)
        run.go(3)
        assert run.holds() == {"door": True}


@pytest.mark.parametrize("gap", ["silence", "crash"])
def test_opened_while_nobody_looked(run_of, gap):
    run = run_of(HOUR).go(10)
    run.board.wire = False
    run.board.set_door(True)
    run.board.set_door(False)
    if gap == "silence":
        run.go(5)
        run.board.wire = True
    else:
        run.board.wire = True
        run.crash(5)
    run.go(2)
    assert "door was opened for a moment" in " ".join(hold.why for hold in run.of(f.HoldBegan))
    assert not run.lit


def test_at_a_checkpoint_its_answer_is_the_word(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(15)
    run.board.set_door(True)
    run.go(30)
    assert run.holds() == {"checkpoint": True, "door": False}
    run.board.set_door(False)
    run.go(2)
    assert run.holds() == {"checkpoint": True}
    run.order(e.Answer, "look")
    run.go(2)
    assert run.lit


@pytest.mark.parametrize("when_s", [9.5, 30])
def test_a_checkpoint_whose_door_was_opened_is_not_passed_by_the_program(run_of, when_s):
    rules = Rules(unanswered="continue", answer_within=60)
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)], rules=rules).go(when_s)
    if when_s < 10:
        run.pass_time(0.5)  # the door opens just as the checkpoint is reached
    run.board.set_door(True)
    run.go(20)
    run.board.set_door(False)
    run.go(3600)
    assert run.holds() == {"checkpoint": True}
    assert len(run.of(f.PersonCalled)) > 1
    run.order(e.Answer, "look")
    run.go(2)
    assert run.lit


def test_an_answer_with_the_door_still_open_is_not_the_word(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=10)]).go(15)
    run.board.set_door(True)
    run.go(5)
    run.order(e.Answer, "look")
    run.board.set_door(False)
    run.go(30)
    assert run.holds() == {"door": True}


def test_at_an_unattended_checkpoint_the_door_still_asks(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="camera", at=10, attended=False, pause=20)]).go(12)
    run.board.set_door(True)
    run.go(5)
    run.board.set_door(False)
    run.go(600)
    assert run.holds() == {"checkpoint": False, "door": True}
    run.order(e.AskContinue)
    run.go(2)
    assert run.lit
