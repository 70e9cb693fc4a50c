"""The virtual clock: lockstep, wake, pace. Real time is a number here; nothing sleeps."""

import threading
from datetime import timedelta

import pytest

from lampwarden.rig.clock import DEMO_UTC, REAL_SLICE_S, VirtualClock


class RealTime:
    """Real seconds, and an event to wait on that passes them. `on_wait` is called before each wait."""

    def __init__(self):
        self.now_s, self.waits, self.on_wait, self.woken = 1000.0, 0, lambda: None, False

    def is_set(self):
        return self.woken

    def wait(self, timeout):
        self.waits += 1
        self.on_wait()
        if not self.woken:
            self.now_s += timeout
        return self.woken


def test_lockstep_advances_the_world_with_the_firmware(desk):
    bench = desk()
    clock = VirtualClock(bench.world)
    clock.wait(3600.0, threading.Event())
    assert clock.now_s() == bench.world.now_s == 3600.0
    assert bench.read("uptime_ms") == pytest.approx(3_600_000, abs=100)


def test_waiting_for_the_past_returns_at_once(desk):
    clock = VirtualClock(desk().world)
    clock.wait(5.0, threading.Event())
    clock.wait(4.0, threading.Event())
    assert clock.now_s() == 5.0


def test_time_waited_for_is_always_reached(desk):
    clock, until_s = VirtualClock(desk().world), 0.0
    for _ in range(200):
        until_s += 0.1
        clock.wait(until_s, threading.Event())
        assert until_s <= clock.now_s() <= until_s + 0.0011


def test_wake_ends_the_wait_and_stays_set(desk):
    bench, wake = desk(), threading.Event()
    clock = VirtualClock(bench.world)
    bench.world.at(10.5, wake.set)
    clock.wait(3600.0, wake)
    assert 10.5 <= clock.now_s() <= 12.0
    assert wake.is_set()
    clock.wait(3600.0, wake)
    assert clock.now_s() <= 12.0


def test_wake_from_another_thread(desk):
    clock, wake = VirtualClock(desk().world, speed=1e-3), threading.Event()
    waiting = threading.Thread(target=clock.wait, args=(3600.0, wake))
    waiting.start()
    wake.set()
    waiting.join(5)
    assert not waiting.is_alive()
    assert clock.now_s() < 1.0


@pytest.mark.parametrize("speed", [0.5, 1.0, 60.0, 600.0])
def test_paced(desk, speed):
    real = RealTime()
    clock = VirtualClock(desk().world, speed, real_s=lambda: real.now_s)
    for second in range(1, 61):
        clock.wait(second, real)
    assert clock.now_s() == 60.0
    assert real.now_s - 1000 == pytest.approx(60 / speed, abs=1e-6)


def test_paced_world_never_runs_ahead_of_real_time(desk):
    real, world = RealTime(), desk().world
    clock = VirtualClock(world, 10.0, real_s=lambda: real.now_s)
    real.on_wait = lambda: ahead.append(world.now_s - 10.0 * (real.now_s - 1000))
    ahead = []
    clock.wait(30.0, real)
    assert max(ahead) <= 0.001


def test_work_between_waits_does_not_slow_the_pace(desk):
    real = RealTime()
    clock = VirtualClock(desk().world, 1.0, real_s=lambda: real.now_s)
    for second in range(1, 61):
        clock.wait(second, real)
        real.now_s += 0.2  # the keeper thinks
    assert real.now_s - 1000 == pytest.approx(60.2, abs=0.01)


def test_a_machine_that_slept_does_not_catch_up(desk):
    real = RealTime()
    clock = VirtualClock(desk().world, 1.0, real_s=lambda: real.now_s)
    clock.wait(10, real)
    real.now_s += 3600
    clock.wait(20, real)
    assert real.now_s - 1000 == pytest.approx(3620, abs=1.0)


def test_speed_may_change_while_waiting(desk):
    real, world = RealTime(), desk().world
    clock = VirtualClock(world, 1.0, real_s=lambda: real.now_s)

    def hurry():
        if world.now_s >= 10:
            clock.speed = 100.0
        if world.now_s >= 60:
            clock.speed = None

    real.on_wait = hurry
    clock.wait(3600.0, real)
    assert clock.now_s() == 3600.0
    assert real.now_s - 1000 == pytest.approx(10.5, abs=3 * REAL_SLICE_S)


def test_calendar_jumps_are_never_felt_by_the_monotonic_time(desk):
    clock = VirtualClock(desk().world)
    clock.wait(60.0, threading.Event())
    assert clock.utc() == DEMO_UTC + timedelta(minutes=1)
    clock.utc_shift = timedelta(hours=-2)
    assert clock.utc() == DEMO_UTC - timedelta(minutes=119)
    assert clock.now_s() == 60.0
    assert clock.utc().utcoffset() == timedelta(0)
