"""Nobody minded the session: board lost, daemon killed, board rebooted. Light is booked once, people are asked."""

from dataclasses import replace

import pytest

from lampwarden.domain.program import Checkpoint, Exposure, Rules
from lampwarden.engine import Phase, step
from lampwarden.engine import events as e
from lampwarden.engine import facts as f
from lampwarden.engine import holds as h

HOUR = Exposure(start=0, end=3600)


def lose(run, seconds):
    run.board.wire = False
    run.go(seconds)
    run.board.wire = True


# --- board lost -------------------------------------------------------------------------------------------------------


def test_a_short_loss_goes_on_by_itself_and_its_light_is_booked_once(run_of):
    run = run_of(HOUR).go(10)
    before_s = run.session.lit_s[0]
    lose(run, 30)
    assert run.holds() == {"board lost": False}
    assert run.session.lit_s[0] == before_s  # nothing is known yet
    run.go(1)
    assert run.holds() == {}
    assert run.lit
    assert run.unseen_s[0] > 1.5  # the board went on until its heartbeat lapsed
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)
    run.go(5000)
    assert run.session.outcome == "completed"
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)
    assert run.session.lit_s[0] == pytest.approx(3600, abs=0.1)


@pytest.mark.parametrize(("lost_s", "asks"), [(60, False), (62, True)])
def test_a_longer_loss_asks_a_person(run_of, lost_s, asks):
    run = run_of(HOUR).go(10)
    run.board.wire = False
    run.pass_time(1)
    run.read()  # lost from here
    run.pass_time(lost_s)
    run.board.wire = True
    run.read()
    assert run.holds() == ({"restart": True} if asks else {})
    if asks:
        assert "1 min 2 s" in run.session.holds[0].why


@pytest.mark.parametrize(("lost_s", "asks"), [(590, False), (611, True)])
def test_a_program_may_go_on_after_a_loss_within_its_gap(run_of, lost_s, asks):
    run = run_of(HOUR, rules=Rules(after_restart="continue", gap_max=600)).go(10)
    lose(run, lost_s)
    run.go(1)
    assert run.holds() == ({"restart": True} if asks else {})
    if asks:
        assert "10 min 11 s, more than the 10 min allowed" in run.session.holds[0].why


def test_the_need_for_a_person_outlives_a_second_short_loss(run_of):
    run = run_of(HOUR).go(10)
    lose(run, 120)
    run.go(2)
    assert run.holds() == {"restart": True}
    lose(run, 3)
    assert run.holds() == {"restart": True, "board lost": False}
    run.go(600)
    assert run.holds() == {"restart": True}
    run.order(e.AskContinue)
    run.go(2)
    assert run.lit


def test_nobody_can_continue_a_session_whose_board_is_lost(run_of):
    run = run_of(HOUR).go(10)
    lose(run, 120)
    assert "The board does not answer." in run.refused(e.AskContinue)
    run.go(2)
    lose(run, 2)
    run.board.wire = False
    run.order(e.AskContinue)  # settles the restart, not the board
    assert run.holds() == {"board lost": False}
    assert not run.lit


def test_one_loss_is_one_pair_of_lines(run_of):
    run = run_of(HOUR).go(10)
    lose(run, 40)
    run.go(5)
    assert [h.reason for h in run.of(f.HoldBegan)] == ["board lost"]
    assert [h.reason for h in run.of(f.HoldEnded)] == ["board lost"]


# --- daemon killed ----------------------------------------------------------------------------------------------------


def test_a_killed_daemon_asks_a_person_and_books_the_light(run_of):
    run = run_of(HOUR).go(57.3)
    run.crash(gap_s=90)
    assert run.holds() == {"restart": True, "board lost": False}
    run.go(2)
    assert run.holds() == {"restart": True}
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)
    assert run.board.true_lit_s[0] == pytest.approx(57.3 + 3, abs=1.01)
    assert run.session.session_s == pytest.approx(run.session.lit_s[0], abs=0.01)
    run.order(e.AskContinue)
    run.go(4000)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s[0] == pytest.approx(3600, abs=0.1)


def test_no_light_before_the_board_was_read_again(run_of):
    run = run_of(HOUR).go(10)
    run.crash(gap_s=90)
    run.board.wire = False
    run.order(e.AskContinue)
    assert run.session.phase is Phase.HELD
    assert not run.lit
    run.board.air_temp_c = None
    run.board.wire = True
    run.go(1)
    assert run.holds() == {"sensor": False}


@pytest.mark.parametrize(
    ("rule", "gap_s", "goes_on"),
    [("ask", 1, False), ("continue", 1, True), ("continue", 300, True), ("continue", 300.5, False)],
)
def test_restart_rules_at_their_edges(run_of, rule, gap_s, goes_on):
    run = run_of(HOUR, rules=Rules(after_restart=rule, gap_max=300)).go(10)
    run.crash(gap_s, clock_gap_s=gap_s)
    assert not run.lit
    run.go(2)
    assert run.lit is goes_on
    assert run.holds() == ({} if goes_on else {"restart": True})


def test_a_second_crash_does_not_forget_the_first(run_of):
    run = run_of(HOUR, rules=Rules(after_restart="continue", gap_max=300)).go(10)
    run.crash(400)
    run.go(2)
    run.crash(1)
    run.go(2)
    assert run.holds() == {"restart": True}


def test_a_crash_before_the_first_answer_still_goes_on_alone(run_of):
    run = run_of(HOUR, rules=Rules(after_restart="continue", gap_max=300)).go(10)
    run.crash(20)
    run.crash(20)
    run.go(2)
    assert run.lit


def test_a_crash_and_a_board_that_stays_away_too_long(run_of):
    run = run_of(HOUR, rules=Rules(after_restart="continue", gap_max=300)).go(10)
    run.crash(20)
    lose(run, 400)
    run.go(2)
    assert run.holds() == {"restart": True}


def test_a_crash_between_begin_and_the_first_reading(make_run, chamber_of, program_of):
    run = make_run(program_of(Exposure(start=0, end=60)), chamber_of(1)).begin()
    run.crash(5)
    run.order(e.AskContinue)
    run.go(100)
    assert run.session.outcome == "completed"
    assert run.board.true_lit_s[0] == pytest.approx(60, abs=0.1)


def test_only_a_session_under_way_can_be_taken_up(make_run, chamber_of, program_of):
    run = make_run(program_of(HOUR), chamber_of(1))
    assert "planned" in run.refused(lambda run_s, by: e.Restarted(run_s, 1.0))
    run.begin()
    run.order(e.AskEnd)
    run.read()
    assert "ended" in run.refused(lambda run_s, by: e.Restarted(run_s, 1.0))


# --- board rebooted ---------------------------------------------------------------------------------------------------


def test_light_before_a_reboot_is_reckoned_from_the_uptime(run_of):
    run = run_of(HOUR).go(100)
    run.pass_time(0.6)
    run.board.reboot()
    run.go(4000)
    assert run.session.outcome == "completed"
    lost_s = run.board.true_lit_s[0] - run.session.lit_s[0]
    assert abs(lost_s) < 0.01  # this board boots in just the time that is reckoned with
    assert run.session.lit_s[0] == pytest.approx(3600, abs=0.1)


@pytest.mark.parametrize("away_s", [1.5, 5, 3600])
def test_power_that_was_gone_for_host_and_board_gave_no_light(run_of, away_s):
    """How long the power stayed away must not be taken for light: half a second is reckoned, a second at most fell."""
    run = run_of(HOUR, rules=Rules(after_restart="continue", gap_max=7200)).go(10)  # totals were saved at 10 s
    run.pass_time(0.4)
    run.board.reboot()
    run.crash(away_s)
    run.board.reboot()
    run.go(1)
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=1.0)


@pytest.mark.parametrize("away_s", [2.5, 20])
def test_a_board_that_was_unplugged_gave_no_light(run_of, away_s):
    run = run_of(HOUR).go(10)
    run.pass_time(0.4)
    run.board.reboot()
    lose(run, away_s)
    run.board.reboot()
    run.board.power_returned = True
    run.go(2)
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=1.0)


def test_light_of_a_silent_board_is_reckoned_up_to_its_reboot(run_of):
    run = run_of(HOUR).go(100)
    lose(run, 2)
    run.board.reboot()
    run.go(3)
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.01)


def test_no_light_is_reckoned_after_a_person_darkened_the_board(run_of):
    run = run_of(HOUR).go(100)
    run.pass_time(0.3)
    run.order(e.AskHold)
    lose(run, 30)
    run.board.reboot()
    run.go(3)
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.31)


def test_a_board_that_restarts_again_and_again_is_not_lit_without_a_person(run_of):
    run = run_of(HOUR)
    for _ in range(3):
        run.go(100)
        run.board.reboot()
    run.go(100)
    assert run.lit
    assert len(run.of(f.BoardRebooted)) == 3
    run.board.reboot()
    run.go(600)
    assert run.holds() == {"restart": True}
    assert "restarted 4 times within one hour; 3 are allowed" in run.session.holds[0].why
    run.order(e.AskContinue)
    run.go(10)
    assert run.lit
    run.board.reboot()  # still within the hour
    run.go(10)
    assert run.holds() == {"restart": True}


def test_restarts_are_counted_over_an_hour_and_over_a_crash(run_of):
    run = run_of(Exposure(start=0, end=9 * 3600), rules=Rules(after_restart="continue"))
    for _ in range(4):
        run.go(1300)
        run.board.reboot()
    run.go(10)
    assert run.lit, "the first is more than an hour ago"
    run.crash(20)
    run.board.reboot()
    run.go(10)
    run.board.reboot()
    run.go(10)
    assert run.holds() == {"restart": True}


def test_a_counter_that_cannot_be_right_is_not_booked(run_of):
    """A late answer of the same boot: its counters went back, but they are no reboot's either."""
    run = run_of(HOUR, counter_ms=4_000_000_000).go(100)
    late = replace(run.board.reading(run.now_s + 1), zone_lit_ms=(4_000_095_000,))
    assert step(run.session, late).session.lit_s[0] <= run.session.lit_s[0] + 1 + h.CLOCK_SLACK_S + 1


def test_a_board_that_cannot_count_its_boots(run_of):
    run = run_of(HOUR).go(100)
    run.pass_time(0.5)
    run.board.reboot()
    run.board.boot_count -= 1
    run.go(4000)
    assert run.session.outcome == "completed"
    assert run.session.lit_s[0] == pytest.approx(3600, abs=0.1)
    assert run.board.true_lit_s[0] == pytest.approx(run.session.lit_s[0], abs=0.1)


def test_light_between_a_reboot_and_the_first_reading_after_it_counts(run_of):
    run = run_of(HOUR).go(100)
    before_s = run.session.lit_s[0]
    run.board.reboot()
    run.board._lit_ms[0] = 700.0
    run.board.true_lit_s[0] += 0.7
    run.pass_time(1)
    run.read()
    assert run.session.lit_s[0] == pytest.approx(before_s + 0.7)


def test_counters_wrap(run_of):
    run = run_of(Exposure(start=0, end=60), counter_ms=2**32 - 30_500)
    run.go(100)
    assert run.session.outcome == "completed"
    assert run.session.lit_s[0] == pytest.approx(60, abs=0.06)
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)


def test_a_checkpoint_waits_through_a_crash(run_of):
    run = run_of(HOUR, checkpoints=[Checkpoint(name="look", at=20)]).go(25)
    assert "checkpoint" in run.holds()
    run.crash(90)
    run.go(2)
    assert run.holds() == {"checkpoint": True, "restart": True}
    run.order(e.Answer, "look")
    assert not run.lit
    run.order(e.AskContinue)
    run.go(2)
    assert run.lit


def test_a_clock_set_back_during_the_gap_changes_no_exposure(run_of):
    run = run_of(HOUR, rules=Rules(after_restart="continue")).go(25)
    run.crash(gap_s=500, clock_gap_s=0.0)
    run.go(5000)
    assert run.session.outcome == "completed"
    assert run.session.lit_s[0] == pytest.approx(run.board.true_lit_s[0], abs=0.002)
    assert run.board.true_lit_s[0] == pytest.approx(3600, abs=0.1)
