"""The keeper against the real firmware: what the simulated lamps truly did, not what the program says of itself."""

import pytest

from lampwarden.domain.program import Checkpoint, Exposure, Program, Rules, ZonePlan
from lampwarden.engine import Phase, Reason
from lampwarden.engine import events as e
from lampwarden.errors import NotNow
from lampwarden.keeper import Keeper
from lampwarden.link.board import Board
from lampwarden.link.transport import WireTransport
from lampwarden.store.records import Batch
from lampwarden.store.writer import DirectWriter

from .conftest import Bench


def program(left_s: float = 120.0, right_s: float = 60.0, **more: object) -> Program:
    return Program(
        title="Two strips",
        zones=(
            ZonePlan(zone="left", exposures=(Exposure(start_s=0, end_s=left_s),)),
            ZonePlan(zone="right", exposures=(Exposure(start_s=0, end_s=right_s),)),
        ),
        **more,  # type: ignore[arg-type]
    )


def held_for(bench: Bench) -> set[str]:
    return {hold.reason.value for hold in bench.session.holds}


def test_an_idle_board_is_read_and_stays_disarmed(bench: Bench) -> None:
    snapshot = bench.turn(5)
    assert snapshot.board.trouble is None
    assert snapshot.board.live is not None
    assert snapshot.board.live.board_state == "dark"
    assert snapshot.board.live.air_temp_c == pytest.approx(22.0, abs=0.5)
    assert bench.true_levels == (0, 0)


def test_zones_get_what_was_planned(bench: Bench) -> None:
    bench.start(program())
    bench.until(lambda s: s.session is not None and s.session.phase is Phase.ENDED)
    assert bench.session.outcome == "completed"
    # One turn a second by hand, so a zone may run on for up to a period.
    assert bench.true_lit_s(0) == pytest.approx(120.0, abs=1.1)
    assert bench.true_lit_s(1) == pytest.approx(60.0, abs=1.1)
    assert bench.session.lit_s[0] == pytest.approx(bench.true_lit_s(0), abs=0.01)
    assert bench.session.lit_s[1] == pytest.approx(bench.true_lit_s(1), abs=0.01)
    assert bench.turn().board.live.board_state == "dark"


def test_light_waits_until_its_facts_are_on_disk(bench: Bench) -> None:
    bench.turn()
    bench.writer.shut = True
    data = program().model_dump(mode="json", by_alias=True, exclude_none=True)
    bench.store.begin_session("s-1", "bench", "t", data, bench.keeper.chamber.model_dump(mode="json"), "2031-01-01Z")
    begun = bench.keeper.start("s-1", program(), "a test", "2031-01-01Z")
    bench.turn(4)
    assert bench.true_lit_s(0) == 0.0
    assert not begun.done(), "nobody is told of a start that is not on disk"
    assert bench.keeper.snapshot.session is None
    bench.writer.shut = False
    bench.writer.flush()
    bench.turn(3)
    assert begun.done()
    assert bench.true_levels == (1000, 1000)


class LateWriter(DirectWriter):
    """A disk that takes what was asked for only when the next batch comes: as a thread does that is a little late."""

    asked = False

    def flush(self) -> None:
        self.asked = True

    def put(self, batch: Batch) -> int:
        if self.asked:
            self.asked = False
            super().flush()
        return super().put(batch)


def test_light_waits_for_its_own_facts_and_not_for_the_readings_after_them(bench: Bench) -> None:
    """Readings reach the disk every 10 s only; light that waited for the newest one would wait for ever."""
    chamber = bench.keeper.chamber
    bench.keeper = Keeper(chamber, Board(WireTransport(bench.rig.wire)), bench.rig.clock, LateWriter(bench.store))
    bench.start(program())
    bench.turn(2)
    assert bench.true_levels == (1000, 1000)
    bench.keeper.order(lambda run_s: e.AskHold(run_s, "a test"))
    bench.turn(2)
    assert bench.true_levels == (0, 0)
    bench.keeper.order(lambda run_s: e.AskContinue(run_s, "a test"))
    bench.turn(3)
    assert bench.true_levels == (1000, 1000)


def test_dark_does_not_wait_for_the_disk(bench: Bench) -> None:
    bench.start(program())
    bench.turn(10)
    assert bench.true_levels == (1000, 1000)
    bench.writer.shut = True
    held = bench.keeper.order(lambda run_s: e.AskHold(run_s, "a test"))
    bench.keeper.turn()
    assert bench.true_levels == (0, 0)
    assert not held.done()
    assert held_for(bench) == set(), "shown only once on disk"
    bench.writer.shut = False
    bench.writer.flush()
    bench.turn()
    assert held.result() is None
    assert "operator" in held_for(bench)


def test_a_disk_that_does_not_get_on_holds_the_session_and_the_board_stays_with_us(bench: Bench) -> None:
    bench.start(program())
    bench.turn(10)
    bench.writer.shut = True
    bench.keeper.order(lambda run_s: e.Annotate(run_s, "a test", "a note"))
    bench.turn(10)
    assert bench.true_levels == (0, 0)
    assert bench.keeper.snapshot.board.live.heartbeat_left_s > 0
    bench.writer.shut = False
    bench.writer.flush()
    bench.turn(3)
    assert bench.session.hold(Reason.STORAGE) is None
    assert bench.true_levels == (1000, 1000)


def test_stop_darkens_and_disarms_at_once_and_the_session_can_go_on(bench: Bench) -> None:
    bench.start(program())
    bench.turn(10)
    stopped = bench.keeper.stop("a test")
    bench.keeper.turn()
    assert bench.true_levels == (0, 0)
    assert stopped.result() is None
    assert "Stopped by a test" in bench.session.hold(Reason.OPERATOR).why
    bench.keeper.order(lambda run_s: e.AskContinue(run_s, "a test"))
    bench.turn(3)
    assert bench.true_levels == (1000, 1000)


def test_stop_without_a_session_is_no_error_for_the_board(bench: Bench) -> None:
    bench.turn()
    stopped = bench.keeper.stop("a test")
    bench.turn()
    with pytest.raises(NotNow, match="no session"):
        stopped.result()
    assert bench.true_levels == (0, 0)


def test_killed_while_lit_the_board_goes_dark_and_the_light_is_booked(bench: Bench) -> None:
    bench.start(program(rules=Rules(after_restart="continue")))
    bench.turn(37)
    bench.die()
    bench.world.advance(bench.world.now_s + 20.0)
    assert bench.true_levels == (0, 0), "the heartbeat stopped"
    fell_s = bench.true_lit_s(0)
    bench.open()
    bench.turn(2)
    assert bench.session.lit_s[0] == pytest.approx(fell_s, abs=2.5)
    bench.until(lambda s: s.session is not None and s.session.phase is Phase.ENDED)
    assert bench.session.outcome == "completed"
    assert bench.session.lit_s[0] == pytest.approx(bench.true_lit_s(0), abs=0.05)
    # design: over by no more than one period and one heartbeat timeout
    assert bench.true_lit_s(0) <= 120.0 + 1.0 + 3.0


def test_a_restart_waits_for_a_person_if_the_program_says_so(bench: Bench) -> None:
    bench.start(program())
    bench.turn(20)
    bench.die()
    bench.world.advance(bench.world.now_s + 8.0)
    bench.open()
    bench.turn(5)
    assert held_for(bench) == {"restart"}
    assert bench.true_levels == (0, 0)
    bench.keeper.order(lambda run_s: e.AskContinue(run_s, "a test"))
    bench.turn(3)
    assert bench.true_levels == (1000, 1000)


def test_a_gap_across_a_clock_that_went_backwards_waits_for_a_person(bench: Bench) -> None:
    from datetime import timedelta

    bench.start(program(rules=Rules(after_restart="continue", gap_max=60)))
    bench.turn(20)
    bench.die()
    bench.world.advance(bench.world.now_s + 1400.0)
    bench.rig.clock.utc_shift = timedelta(hours=-1)
    bench.open()
    bench.turn(5)
    assert held_for(bench) == {"restart"}
    assert "not known" in bench.session.holds[0].why
    assert bench.true_levels == (0, 0)


def test_killed_between_row_and_first_fact_the_session_is_taken_up_dark(bench: Bench) -> None:
    bench.turn()
    data = program(rules=Rules(after_restart="continue")).model_dump(mode="json", by_alias=True, exclude_none=True)
    bench.store.begin_session("s-1", "bench", "t", data, bench.keeper.chamber.model_dump(mode="json"), "2031-01-01Z")
    bench.die()
    bench.open()
    bench.turn(3)
    assert bench.session.phase is Phase.HELD
    assert held_for(bench) == {"restart"}, "it never passed preflight: a person must look first"
    assert bench.true_levels == (0, 0)


def test_what_was_shown_is_there_after_a_kill(bench: Bench) -> None:
    bench.start(program(checkpoints=(Checkpoint(name="look", at_s=5.0),)))
    bench.until(lambda s: s.session is not None and s.session.waiting is not None)
    shown = bench.session
    bench.die()
    bench.open()
    found = bench.keeper.snapshot.session or bench.turn().session
    assert found.waiting is not None
    assert found.waiting.reached_s == shown.waiting.reached_s
    assert found.checkpoints_passed == shown.checkpoints_passed


def test_an_unplugged_board_holds_and_goes_on_when_it_is_back(bench: Bench) -> None:
    bench.start(program())
    bench.turn(10)
    bench.rig.wire.plugged = False
    bench.turn(6)
    assert "board lost" in held_for(bench)
    assert bench.true_levels == (0, 0)
    fell_s = bench.true_lit_s(0)
    bench.rig.wire.plugged = True
    bench.until(lambda s: s.session.phase is Phase.RUNNING and bench.true_levels == (1000, 1000), 60)
    assert bench.session.lit_s[0] >= fell_s - 0.1


def test_a_board_that_rebooted_is_armed_again(bench: Bench) -> None:
    bench.start(program())
    bench.turn(10)
    bench.world.reboot()
    assert bench.true_levels == (0, 0)
    bench.until(lambda s: bench.true_levels == (1000, 1000), 60)
    bench.until(lambda s: s.session.phase is Phase.ENDED)
    assert bench.session.lit_s[0] == pytest.approx(bench.true_lit_s(0), abs=1.0)


def test_a_trip_waits_for_a_person_and_is_cleared(bench: Bench) -> None:
    bench.start(program())
    bench.turn(10)
    bench.world.press_stop(True)
    bench.turn(2)
    assert held_for(bench) >= {"trip"}
    assert bench.true_levels == (0, 0)
    bench.world.press_stop(False)
    bench.turn(5)
    assert bench.true_levels == (0, 0), "latched until a person says so"
    bench.keeper.order(lambda run_s: e.AskContinue(run_s, "a test"))
    bench.turn(4)
    assert bench.true_levels == (1000, 1000)


def test_a_door_opened_between_two_readings_holds(bench: Bench) -> None:
    bench.start(program())
    bench.turn(10)
    bench.world.door(True)
    bench.world.advance(bench.world.now_s + 0.3)
    bench.world.door(False)
    bench.turn(2)
    assert held_for(bench) == {"door"}
    assert bench.true_levels == (0, 0)


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda bench: bench.world.door(True), "The door is open"),
        (lambda bench: bench.world.air_sensor("silent"), "The board has tripped: air sensor silent"),
        (lambda bench: bench.world.press_stop(True), "stop button"),
        (lambda bench: setattr(bench.rig.wire, "plugged", False), "The board does not answer"),
    ],
)
def test_a_start_is_refused_with_its_reason(bench: Bench, spoil: object, sentence: str) -> None:
    bench.turn()
    spoil(bench)  # type: ignore[operator]
    bench.turn(8)
    with pytest.raises(NotNow, match=sentence):
        bench.start(program())
    assert bench.true_levels == (0, 0)


def test_the_white_bank_is_not_left_lit_over_a_night(bench: Bench) -> None:
    truth = bench.world.truth
    bench.start(program(checkpoints=(Checkpoint(name="look", at_s=5.0),)))
    bench.until(lambda s: truth.inspection_permille > 0)
    bench.turn(1750)
    assert truth.inspection_permille == 300
    bench.turn(60)
    assert truth.inspection_permille == 0
    bench.keeper.order(lambda run_s: e.AskInspection(run_s, "a test"))
    bench.turn(2)
    assert truth.inspection_permille == 300
    lines = [line.text for line in bench.store.last_lines("s-1", "bench", 20) if line.kind.startswith("inspection")]
    assert [text.split(" after")[0] for text in lines] == [
        "Inspection light off",
        "Inspection light asked for by a test.",
    ]


def test_light_that_falls_until_the_end_is_booked(bench: Bench) -> None:
    bench.start(program())
    bench.turn(10)
    bench.world.advance(bench.world.now_s + 0.7)
    ended = bench.keeper.order(lambda run_s: e.AskEnd(run_s, "a test"))
    bench.keeper.turn()
    assert ended.result(timeout=0) is None
    assert bench.session.phase is Phase.ENDED
    assert bench.true_levels == (0, 0)
    assert bench.session.lit_s == pytest.approx((bench.true_lit_s(0), bench.true_lit_s(1)), abs=0.002)


def test_limits_above_the_boards_ceiling_are_refused(bench: Bench) -> None:
    hot = program(limits={"air_soft_c": 50.0, "air_hard_c": 60.0})
    with pytest.raises(NotNow, match="60 °C, above the board's own ceiling of 45 °C"):
        bench.start(hot)


def test_a_wall_clock_that_jumps_changes_no_exposure(bench: Bench) -> None:
    from datetime import timedelta

    bench.start(program())
    bench.turn(10)
    bench.rig.clock.utc_shift = timedelta(hours=-5)
    bench.turn(10)
    bench.rig.clock.utc_shift = timedelta(days=2)
    bench.until(lambda s: s.session.phase is Phase.ENDED)
    assert bench.true_lit_s(0) == pytest.approx(120.0, abs=1.1)


def test_power_that_fails_for_host_and_board_loses_less_than_a_second(bench: Bench) -> None:
    bench.start(program(rules=Rules(after_restart="continue")))
    bench.turn(27)
    bench.world.advance(bench.world.now_s + 0.4)
    bench.die()
    bench.world.reboot()
    fell_s = bench.true_lit_s(0)
    bench.world.advance(bench.world.now_s + 90.0)
    bench.open()
    bench.turn(1)
    assert bench.session.lit_s[0] == pytest.approx(fell_s, abs=1.0)


def test_a_journal_that_takes_no_more_lines_leaves_the_chamber_dark(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    from lampwarden.store import writer

    bench.start(program())
    bench.turn(5)
    bench.writer.shut = True
    monkeypatch.setattr(writer, "WAITING_LINES_MAX", 0)
    bench.keeper.order(lambda run_s: e.AskHold(run_s, "a test"))
    bench.turn(2)
    assert bench.true_levels == (0, 0)
    monkeypatch.undo()
    bench.writer.shut = False
    bench.writer.flush()
    bench.keeper.order(lambda run_s: e.AskContinue(run_s, "a test"))
    bench.turn(5)
    assert bench.true_levels == (0, 0), "a line is missing, so no more light from this daemon"
