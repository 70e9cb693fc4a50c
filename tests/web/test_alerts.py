"""What a page calls out, at each state of a real session."""

from lampwarden.web.alerts import Alert, alerts

from .conftest import Bench


def one(bench: Bench) -> Alert | None:
    found = alerts([bench.service.snapshot("bench")])
    return found[0] if found else None


def test_calls_and_reminders(bench: Bench) -> None:
    assert one(bench) is None
    bench.start()
    bench.until(lambda s: one(bench) is not None, 60)
    first = one(bench)
    assert first is not None
    assert (first.fault, first.step, first.href) == (False, 0, "/now/bench")
    assert first.title == "Your turn: photo “baseline” · Test bench"
    bench.run(280)
    assert one(bench) == first
    bench.until(lambda s: one(bench) != first, 30)
    later = one(bench)
    assert later is not None
    assert later.step == 1
    assert later.key != first.key
    assert later.title == "Still waiting: photo “baseline” · Test bench"
    bench.clock.limit_s += 60
    bench.service.answer("bench", "baseline", "Wilma")
    bench.until(lambda s: any(s.board.live.zone_applied), 20)
    assert one(bench) is None


def test_a_pause_by_a_person_is_no_call(bench: Bench) -> None:
    bench.lit()
    bench.clock.limit_s += 60
    bench.service.hold("bench", "Wilma")
    bench.run(3)
    assert one(bench) is None


def test_a_fault_comes_before_a_call_and_its_end_is_told_once(bench: Bench) -> None:
    bench.start()
    bench.world.press_stop(True)
    bench.until(lambda s: (found := one(bench)) is not None and found.fault, 30)
    fault = one(bench)
    assert fault is not None
    assert fault.title == "The board cut the light off · Test bench"
    assert not fault.over
    bench.run(5)
    assert one(bench) == fault
