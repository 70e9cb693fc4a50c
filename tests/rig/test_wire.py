"""The in-process wire: virtual time passes, and each fault does what it says."""

import pytest

from lampwarden.rig import wire as faults


def test_exchange_takes_a_few_virtual_ms(desk):
    bench = desk()
    before_s = bench.world.now_s
    bench.read("uptime_ms")
    assert bench.world.now_s - before_s == pytest.approx(2 * faults.LATENCY_MS / 1000, abs=1e-9)


def test_silence_takes_the_whole_timeout(desk):
    bench = desk()
    before_s = bench.world.now_s
    assert bench.wire.exchange(b"", 0.25) == b""
    assert bench.world.now_s - before_s == pytest.approx(0.25, abs=1e-9)


@pytest.mark.parametrize("fault", [faults.drop, faults.garble, faults.truncate])
def test_spoilt_question_gets_no_answer_and_changes_nothing(lit, fault):
    bench = lit()
    bench.wire.to_board = fault
    with pytest.raises(TimeoutError):
        bench.write("heartbeat", 999)
    bench.wire.to_board = faults.faithful
    assert bench.read("live_echo") == bench.beat
    assert bench.read("frames_bad") == (0 if fault is faults.drop else 1)


def test_spoilt_answer(desk):
    bench = desk()
    bench.wire.to_host = faults.drop
    with pytest.raises(TimeoutError):
        bench.read("zone_count")
    bench.wire.to_host = faults.garble
    with pytest.raises(AssertionError):
        bench.read("zone_count")
    bench.wire.to_host = faults.truncate
    with pytest.raises((AssertionError, IndexError)):
        bench.read("zone_count")
    bench.wire.to_host = faults.faithful
    assert bench.read("zone_count") == 6


def test_late_answer_comes_to_the_next_question(desk):
    bench = desk()
    bench.wire.to_host = faults.delay(299)
    with pytest.raises(TimeoutError):
        bench.read("zone_count")
    bench.wire.to_host = faults.faithful
    assert bench.read("bank_count") == 6  # the answer to the first question: same shape, told only by an echo
    bench.wait(1)
    assert bench.read("bank_count") == 3


def test_bytes_that_came_before_the_question_are_thrown_away(desk):
    bench = desk()
    bench.wire.to_host = faults.delay(299)
    with pytest.raises(TimeoutError):
        bench.read("zone_count")
    bench.wire.to_host = faults.faithful
    bench.wait(0.1)
    assert bench.read("bank_count") == 3


def test_duplicate_question_is_answered_twice(desk):
    bench = desk()
    bench.wire.to_board = faults.duplicate
    assert bench.read("zone_count") == 6
    bench.wire.to_board = faults.faithful
    bench.wait(0.1)
    assert bench.read("frames_ok") == 3


def test_unplugged(desk):
    bench = desk()
    bench.wire.plugged = False
    with pytest.raises(ConnectionError, match="unplugged"):
        bench.read("zone_count")
    bench.wire.plugged = True
    assert bench.read("zone_count") == 6


def test_unplugged_while_waiting(desk):
    bench = desk()
    bench.wire.to_host = faults.drop

    def pull():
        bench.wire.plugged = False

    bench.world.at(0.1, pull)
    with pytest.raises(ConnectionError, match="unplugged"):
        bench.read("zone_count")
    assert bench.world.now_s < 0.2


def test_host_that_lost_the_wire_leaves_the_board_to_darken(lit):
    bench = lit()
    bench.wire.to_board = faults.drop
    for _ in range(5):
        with pytest.raises(TimeoutError):
            bench.demand()
        bench.wait(1)
    assert bench.truth.dark
