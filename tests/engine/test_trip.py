"""A trip of the board: latched until a person says that its cause is mended, and the board agrees."""

import pytest

from lampwarden.domain.program import Exposure, Rules
from lampwarden.engine import events as e
from lampwarden.engine import facts as f

HOUR = Exposure(start=0, end=3600)


@pytest.fixture
def tripped(run_of):
    run = run_of(HOUR, rules=Rules(after_restart="continue")).go(10)
    run.board.set_trip("stop button pressed")
    run.board.cause_lasts = True
    return run.go(2)


def test_it_holds_and_asks_nothing_of_the_board_by_itself(tripped):
    tripped.go(600)
    assert tripped.holds() == {"trip": True}
    assert "stop button pressed" in tripped.session.holds[0].why
    assert tripped.board.trip
    assert not tripped.outcome.clear_trip


def test_it_is_cleared_when_a_person_says_so(tripped):
    tripped.board.cause_lasts = False
    tripped.order(e.AskContinue)
    assert not tripped.lit
    tripped.go(3)
    assert tripped.board.trip == ""
    assert tripped.holds() == {}
    assert tripped.lit
    tripped.go(4000)
    assert tripped.session.lit_s[0] == pytest.approx(tripped.board.true_lit_s[0], abs=0.002)
    assert tripped.board.true_lit_s[0] == pytest.approx(3600, abs=0.1)


def test_a_board_that_refuses_is_asked_for_ten_seconds(tripped):
    tripped.order(e.AskContinue)
    asked = 0
    for _ in range(30):
        tripped.go(1)
        asked += tripped.outcome.clear_trip
    assert asked == 10
    assert tripped.holds() == {"trip": True}
    assert "does not clear its trip yet: stop button pressed" in tripped.session.holds[0].why
    tripped.board.cause_lasts = False
    tripped.go(60)
    assert tripped.holds() == {"trip": True}  # the word has lapsed
    tripped.order(e.AskContinue)
    tripped.go(3)
    assert tripped.lit


def test_a_person_may_say_it_twice(tripped):
    tripped.order(e.AskContinue)
    tripped.go(5)
    tripped.order(e.AskContinue)
    tripped.board.cause_lasts = False
    tripped.go(2)
    assert tripped.holds() == {}


def test_a_new_trip_needs_a_new_word(tripped):
    tripped.order(e.AskContinue)
    tripped.go(1)
    tripped.board.set_trip("air sensor silent")  # the first was cleared meanwhile, unseen
    tripped.go(1)
    assert not tripped.outcome.clear_trip
    assert "air sensor silent" in tripped.session.holds[0].why
    tripped.go(30)
    assert tripped.board.trip
    tripped.board.cause_lasts = False
    tripped.order(e.AskContinue)
    tripped.go(3)
    assert tripped.lit


def test_a_reboot_of_the_board_does_not_lose_the_trip(tripped):
    tripped.board.reboot()
    tripped.go(30)
    assert tripped.holds() == {"trip": True}
    assert "restarted since its trip" in tripped.session.holds[0].why
    assert len(tripped.of(f.HoldWaits)) == 1
    tripped.order(e.AskContinue)
    tripped.go(3)
    assert tripped.lit


def test_a_reboot_then_another_trip(tripped):
    tripped.board.reboot()
    tripped.go(5)
    tripped.board.set_trip("bank sensor open or shorted")
    tripped.go(2)
    assert "bank sensor open or shorted" in tripped.session.holds[0].why


def test_a_reboot_after_the_word_was_given_goes_on(tripped):
    tripped.order(e.AskContinue)
    tripped.board.reboot()
    tripped.go(3)
    assert tripped.holds() == {}
    assert tripped.lit


def test_a_restart_of_the_host_does_not_lose_the_trip(tripped):
    tripped.crash(30)
    tripped.board.reboot()
    tripped.go(5)
    assert tripped.holds() == {"trip": True}
    assert not tripped.lit


def test_the_other_holds_are_lifted_by_the_same_word(tripped):
    tripped.order(e.AskHold)
    tripped.board.cause_lasts = False
    tripped.order(e.AskContinue)
    assert tripped.holds() == {"trip": True}
    tripped.go(3)
    assert tripped.holds() == {}


def test_a_trip_that_stood_before_the_session(make_run, chamber_of, program_of):
    run = make_run(program_of(HOUR), chamber_of(1))
    run.board.set_trip("stop button pressed")
    run.begin().go(3)
    assert run.holds() == {"trip": True}
