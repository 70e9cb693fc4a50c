"""Session time runs only while nothing holds, and never by more light than fell."""

from dataclasses import replace

import pytest

from lampwarden.domain.program import Exposure
from lampwarden.engine import events as e


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


def test_a_zone_whose_light_is_late_is_not_cut_short(run_of):
    """B's light waits for the disk while A is lit on: session time waits with it, so that B's end comes later."""
    run = run_of(Exposure(start=0, end=60), Exposure(start=20, end=30)).go(19.95)
    while run.session.levels[1] == 0:
        run.go(0.05)
    held = run.outcome
    for _ in range(58):  # the keeper looks again each 50 ms while light waits
        run.outcome = replace(held, demand=replace(held.demand, zone_levels=(1.0, 0.0)))
        run.board.demand(run.outcome.demand)
        run.pass_time(0.05)
        run.tell(run.board.reading(run.now_s))
        run.board.demand(replace(held.demand, zone_levels=(1.0, 0.0)))
    run.go(100)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s == pytest.approx([60, 10], abs=0.15)


@pytest.mark.parametrize("gap_s", [5, 60])
def test_a_light_that_was_due_while_the_daemon_was_dead_is_given_in_full(run_of, gap_s):
    """Zone A stayed lit until its heartbeat lapsed, past the moment at which B should have been lit."""
    run = run_of(Exposure(start=0, end=60), Exposure(start=12, end=15, level=0.5)).go(11)
    run.crash(gap_s)
    run.go(2)
    assert run.session.session_s == pytest.approx(12)
    run.order(e.AskContinue)
    run.go(100)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s == pytest.approx([60, 1.5], abs=0.1)


def test_a_dark_wait_is_not_overslept(run_of):
    run = run_of(Exposure(start=10, end=20)).go(5)
    run.pass_time(100)
    run.go(30)
    assert run.board.true_lit_s[0] == pytest.approx(10, abs=0.1)


def test_notes_do_not_slow_session_time(run_of):
    run = run_of(Exposure(start=30, end=60))
    for _ in range(20):
        run.pass_time(0.9)
        run.order(e.Annotate, "Still dark.")
        run.pass_time(0.1)
        run.read()
    assert run.session.session_s == pytest.approx(20)


def test_a_note_is_kept_before_and_after_a_session(make_run, chamber_of, program_of):
    run = make_run(program_of(Exposure(start=0, end=60)), chamber_of(1))
    run.order(e.Annotate, "Sheet laid in.")
    run.begin()
    run.order(e.AskEnd, "Enough.")
    run.read()
    run.order(e.Annotate, "Sheet taken out.")
    assert [text.split(" ", 1)[1] for text in run.texts()] == [
        "Ana: Sheet laid in.",
        "Session begun by Ana.",
        "Going dark for the end: Ended by Ana: Enough.",
        "Session ended by person: Ended by Ana: Enough.",
        "Ana: Sheet taken out.",
    ]
