"""The whole board in one process: frames in, lamps out, over a board layer whose inputs the test sets."""

import struct

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from lampboard import registers
from lampboard.node import Node, run
from lampboard.registers import UNIT_ID
from lampboard.rtu import ILLEGAL_ADDRESS, ILLEGAL_VALUE, NOT_NOW, sealed


def test_lamps_are_put_out_at_once(make_bench):
    bench = make_bench()
    assert bench.lamps == [0] * 6
    assert bench.inspection == 0


def test_lights_what_is_demanded(bench):
    bench.light(1000, 0, 250, inspect=30)
    assert bench.lamps == [1000, 0, 250, 0, 0, 0]
    assert bench.inspection == 30
    assert bench.fan == 1000
    bench.demand(0)
    assert not bench.is_lit()


def test_the_watchdog_is_fed_each_pass(bench):
    bench.run(1000, beat=False)
    assert bench.fed == 10


def test_reply_goes_out_after_the_lamps(make_bench):
    """A master that never reads blocks the write; the lamps have been set by then."""

    class Blocking(make_bench):
        def write(self, data):
            super().write(data)
            self.lamps_at_write = list(self.lamps)

    bench = Blocking()
    bench.light(1000)
    assert bench.lamps_at_write[0] == 1000
    bench.demand(0)
    assert bench.lamps_at_write == [0] * 6


def live(bench):
    """All live registers by name, as one request gives them."""
    first = registers.row("live_echo")[1]
    rows = [row for row in registers.ROWS if row[0] == "input" and row[1] >= first]
    words = sum(count * registers.width(code) for _kind, _address, _name, code, count, *_rest in rows)
    reply = bench.ask(struct.pack(">BBHH", UNIT_ID, 4, first, words))
    values = struct.unpack(">" + "".join(f"{row[4]}{row[3]}" for row in rows), reply[3:])
    found, at = {}, 0
    for row in rows:
        found[row[2]], at = values[at : at + row[4]], at + row[4]
    return found


@pytest.mark.parametrize("switch", ["stop", "door"])
def test_a_reply_shows_what_was_judged(bench, switch):
    """Whenever the question comes: no stop without its trip, no open door beside a lamp that is lit."""
    bench.light(1000)
    setattr(bench, switch, True)  # seen in the very pass in which the question arrives
    shown = {"stop": "stop_pressed", "door": "door_open"}[switch]
    for _pass in range(2):
        bench.tick += 1
        now = live(bench)
        assert now[shown] == (0,) or (now["board_state"] != (registers.LIT,) and not any(now["zone_applied_permille"]))
        assert now["stop_pressed"] == (0,) or now["trip_cause"] == (registers.TRIP_STOP,)
    assert now[shown] == (1,)


def test_the_first_reply_of_all_shows_what_was_judged(make_bench):
    class Pressed(make_bench):
        def stop_pressed(self):
            return True

    now = live(Pressed())
    assert (now["stop_pressed"], now["trip_cause"]) == ((1,), (registers.TRIP_STOP,))


@pytest.mark.parametrize(
    ("name", "values", "code"),
    [
        ("heartbeat", (1, 1001), ILLEGAL_VALUE),
        ("heartbeat", (1, 0, 0, 500, 1001), ILLEGAL_VALUE),
        ("heartbeat", (1, 0, 0, 500, 0, 0, 0, 0, 0, 1, 0), ILLEGAL_VALUE),  # zone 7 of 6
        ("zone_level_permille", (500, 500, 500, 500, 500, 500, 1), ILLEGAL_VALUE),
        ("heartbeat_timeout_ms", (999,), ILLEGAL_VALUE),
        ("heartbeat_timeout_ms", (10001,), ILLEGAL_VALUE),
        ("heartbeat_timeout_ms", (2000, 6001, 6500, 1), ILLEGAL_VALUE),
        ("heartbeat_timeout_ms", (2000, 5000, 7001, 1), ILLEGAL_VALUE),
        ("air_limit_centi_c", (-1,), ILLEGAL_VALUE),
        ("air_limit_centi_c", (registers.NO_VALUE,), ILLEGAL_VALUE),
        ("arm", (2,), ILLEGAL_VALUE),
        ("arm", (1,), NOT_NOW),
        ("clear_trip", (12,), ILLEGAL_VALUE),
        ("clear_trip", (1,), ILLEGAL_VALUE),
        ("service_key", (0,), ILLEGAL_VALUE),
        ("service_key", (registers.SERVICE_KEY,), NOT_NOW),
        ("arm", (0, 0, registers.SERVICE_KEY, 0), ILLEGAL_ADDRESS),
        (17, (0,), ILLEGAL_ADDRESS),
        (65535, (0,), ILLEGAL_ADDRESS),
        (65535, (0, 1), ILLEGAL_ADDRESS),
    ],
)
def test_a_refused_write_changes_nothing(bench, name, values, code):
    bench.light(400, inspect=100)
    before = bench.ask(b"\x01\x03\x00\x00\x00\x11")
    lamps = list(bench.lamps)
    assert bench.write_registers(name, *values) == code
    assert bench.ask(b"\x01\x03\x00\x00\x00\x11") == before
    assert bench.lamps == lamps
    assert bench.value("exceptions") == 1


@pytest.mark.parametrize(
    ("function", "first", "count", "legal"),
    [
        (4, 0, 17, True),
        (4, 32, 62, True),
        (4, 93, 1, True),
        (4, 0, 18, False),
        (4, 16, 2, False),
        (4, 17, 1, False),
        (4, 31, 2, False),
        (4, 32, 63, False),
        (4, 94, 1, False),
        (4, 65535, 1, False),
        (4, 65535, 2, False),
        (3, 0, 17, True),
        (3, 16, 2, False),
        (3, 17, 1, False),
    ],
)
def test_reads_stay_inside_the_table(bench, function, first, count, legal):
    reply = bench.ask(struct.pack(">BBHH", UNIT_ID, function, first, count))
    if legal:
        assert reply[:3] == bytes((UNIT_ID, function, 2 * count))
        assert len(reply) == 3 + 2 * count
    else:
        assert reply == bytes((UNIT_ID, function | 0x80, ILLEGAL_ADDRESS))


def test_one_register_of_a_list_leaves_the_others(bench):
    bench.light(100, 200, 300)
    assert bench.ask(struct.pack(">BBHH", UNIT_ID, 6, registers.row("zone_level_permille")[1] + 1, 999)) != b""
    assert bench.lamps == [100, 999, 300, 0, 0, 0]


def test_broadcasts_light_nothing(bench):
    bench.run(200, beat=False)
    bench.arm()
    assert bench.ask(struct.pack(">BBHHB11H", 0, 16, 0, 11, 22, 5, 0, 0, *[1000] * 6, 0, 0)) == b""
    assert not bench.is_lit()


@pytest.mark.parametrize("before_ms", [0, 100, 1450, 2950])
def test_ticks_wrap(make_bench, before_ms):
    """The ms counter wraps at 2**30 while lamps are lit: no early darkness, no late one, no light lost."""
    bench = make_bench(tick=(1 << 30) - 1500 - before_ms)
    bench.light(1000)
    for _ in range(6):
        bench.run(1000)
    assert bench.tick < 1 << 20
    assert bench.is_lit()
    lit_ms = bench.value("zone_lit_ms")[0]
    assert lit_ms == 6000
    bench.beat()
    bench.run(3000, beat=False)
    assert bench.is_lit()
    bench.run(100, beat=False)
    assert not bench.is_lit()
    assert bench.value("loop_gap_ms_max") == 100


def test_the_light_that_is_shown_is_that_of_the_very_moment(bench):
    """The guard books each 200 ms; a host that books an end or a reset by what it read must not miss that much."""
    bench.light(1000, 500)
    bench.tick += 130
    assert bench.value("zone_lit_ms")[:2] == [130, 65]


def test_a_clock_that_runs_backwards_is_dark(bench):
    bench.light(1000)
    bench.tick = (bench.tick - 5) % (1 << 30)
    bench.node.step()
    assert not bench.is_lit()


def test_a_stalled_loop_is_dark_when_it_wakes(bench):
    bench.light(1000)
    bench.tick += 5000
    bench.node.step()
    assert not bench.is_lit()
    assert bench.value("loop_gap_ms_max") == 5000


def test_sensors_are_read_twice_a_second(bench):
    bench.run(10000, step_ms=5, beat=False)
    assert 19 <= bench.air.fetches <= 20


@pytest.mark.parametrize("step_ms", [5, 20, 100])
def test_dark_within_250_ms_of_what_is_seen(make_bench, step_ms):
    """Inputs: the next pass. Readings: the pass that fetches them, at most SENSE_MS and a conversion after the fact."""
    for change, limit_ms in (
        (lambda bench: setattr(bench, "door", True), step_ms),
        (lambda bench: setattr(bench, "stop", True), step_ms),
        (lambda bench: setattr(bench.air, "temp_centi_c", 5001), 500 + 2 * step_ms),
        (lambda bench: setattr(bench, "bank_centi_c", [2500, 6510]), 500 + 2 * step_ms),
    ):
        bench = make_bench()
        bench.light(1000)
        bench.run(1300, step_ms=step_ms)
        change(bench)
        dark_ms = 0
        while bench.is_lit():
            fetched = bench.air.fetches
            bench.run(step_ms, step_ms=step_ms, beat=False)
            dark_ms += step_ms
            assert dark_ms <= limit_ms
            if bench.air.temp_centi_c > 5000 and bench.air.fetches > fetched:
                assert not bench.is_lit()  # in the very pass


def test_air_reading_ages_into_no_value(bench):
    bench.run(700, beat=False)
    bench.air.status = registers.SENSOR_SILENT
    bench.run(3000, beat=False)
    assert bench.value("air_status") == registers.SENSOR_SILENT
    assert bench.value("air_temp_centi_c") == 2500
    assert 2500 < bench.value("air_age_ms") <= 3000
    bench.run(500, beat=False)
    assert bench.value("air_temp_centi_c") == bench.value("humidity_centi_pct") == registers.NO_VALUE
    bench.run(100000, beat=False)
    assert bench.value("air_age_ms") == 65535


def test_run_survives_ctrl_c_and_ends_dark(make_bench):
    class Ending(make_bench):
        passes = 0
        left = False

        def feed(self):
            self.passes += 1
            if self.passes == 3:
                raise KeyboardInterrupt
            if self.passes == 6:
                self.arrived = sealed(struct.pack(">BBHH", UNIT_ID, 6, 16, registers.SERVICE_KEY))

        def leave(self):
            self.left = True

    bench = Ending()
    run(bench)
    assert bench.passes == 7
    assert bench.left
    assert not bench.is_lit()


def test_run_is_dark_after_an_error(make_bench):
    class Breaking(make_bench):
        def feed(self):
            self.lamps[0] = 1000
            raise ValueError("broken")

    bench = Breaking()
    with pytest.raises(ValueError, match="broken"):
        run(bench)
    assert not bench.is_lit()


# --- anything on the line ---------------------------------------------------------------------------------------------
def order(first, values):
    words = struct.pack(f">{len(values)}H", *values)
    return sealed(struct.pack(">BBHHB", UNIT_ID, 16, first, len(values), len(words)) + words)


HARMLESS = st.one_of(
    st.binary(max_size=60),
    # well formed orders, for us or for others, that never arm
    st.builds(order, st.integers(0, 13), st.lists(st.integers(0, 1200), min_size=1, max_size=1)),
    st.builds(order, st.just(0), st.lists(st.integers(0, 1000), min_size=11, max_size=11)),
    st.builds(order, st.sampled_from([14, 15, 16]), st.lists(st.integers(0, 3), min_size=1, max_size=4)),
    st.builds(lambda body: sealed(b"\x00" + body), st.binary(max_size=30)),
    st.builds(lambda f, body: sealed(bytes((UNIT_ID, f)) + body), st.integers(0, 255), st.binary(max_size=30)),
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(HARMLESS, max_size=30))
def test_nothing_but_an_armed_demand_lights(make_bench, pieces):
    """No limits were ever written together with arm = 1, so arming is never legal, whatever else comes."""
    bench = make_bench()
    for piece in pieces:
        bench.arrived = piece
        bench.tick += 20
        bench.node.step()
        if not bench.node.guard.armed:
            assert not bench.is_lit()
    bench.tick += 100
    bench.node.step()
    if not bench.node.guard.armed:
        assert bench.value("board_state") in (registers.DARK, registers.TRIPPED)


class AnyHost(RuleBasedStateMachine):
    """A host and a world that do anything in any order; a plain reading of the rules watches the lamps."""

    bench_class = None
    lights = 0

    @initialize(step_ms=st.sampled_from([20, 100]))
    def boot(self, step_ms):
        self.step_ms = step_ms
        self.bench = AnyHost.bench_class(tick=(1 << 30) - 20000, lit_ceiling_s=60)
        self.clock_ms = 0
        self.armed = False  # an arm was obeyed in this boot and nothing ended it since
        self.beaten_ms = None
        self.timeout_ms = 3000
        self.limit = {"air": 6000, "bank": 7000}
        self.last_heartbeat = None

    def tell(self, name, *values):
        return self.bench.write_registers(name, *values)

    @rule(steps=st.integers(1, 60))
    def time_passes(self, steps):
        for _ in range(steps):
            self.bench.tick = (self.bench.tick + self.step_ms) % (1 << 30)
            self.clock_ms += self.step_ms
            self.bench.node.step()
            self.watch()

    @rule(number=st.sampled_from([0, 1, 2, 65535]), levels=st.lists(st.integers(0, 1000), min_size=6, max_size=6))
    def demand(self, number, levels):
        if self.tell("heartbeat", number, 0, levels[0], *levels, 0, 0) == 0 and number != self.last_heartbeat:
            self.last_heartbeat = number
            self.beaten_ms = self.clock_ms

    @rule(zone=st.integers(0, 7), level=st.integers(0, 1001))
    def one_zone(self, zone, level):
        self.tell(registers.row("zone_level_permille")[1] + zone, level)

    @rule(timeout=st.sampled_from([1000, 3000, 10000]), air=st.integers(2000, 6100), bank=st.integers(2000, 7100))
    def set_up(self, timeout, air, bank):
        if self.tell("heartbeat_timeout_ms", timeout, air, bank) == 0:
            assert air <= 6000
            assert bank <= 7000
            self.timeout_ms = timeout
            self.limit = {"air": air, "bank": bank}

    @rule(arm=st.sampled_from([0, 1, 1, 1]))
    def arm(self, arm):
        if self.tell("arm", arm) == 0:
            self.armed = arm == 1

    @precondition(lambda self: self.bench.node.guard.trip_cause)
    @rule(number=st.integers(0, 11))
    def clear(self, number):
        if self.tell("clear_trip", number) == 0:
            self.armed = False

    @rule(is_open=st.booleans())
    def door(self, is_open):
        self.bench.door = is_open

    @rule(is_pressed=st.sampled_from([False, False, True]))
    def button(self, is_pressed):
        self.bench.stop = is_pressed

    @rule(status=st.sampled_from([0, 0, 0, 1, 2, 3]), temp=st.integers(2000, 6500))
    def air(self, status, temp):
        self.bench.air.status = status
        self.bench.air.temp_centi_c = temp

    @rule(bank=st.integers(0, 1), temp=st.one_of(st.none(), st.integers(2000, 7500)))
    def bank(self, bank, temp):
        self.bench.bank_centi_c[bank] = temp

    @rule(noise=st.binary(max_size=20))
    def noise(self, noise):
        self.bench.arrived = noise
        self.bench.node.step()
        self.time_passes(60 // self.step_ms + 1)  # the silence that ends it

    @rule(levels=st.lists(st.integers(1, 1000), min_size=6, max_size=6))
    def put_right_and_light(self, levels):
        """Else a random host would hardly ever get as far as light."""
        bench = self.bench
        bench.door = bench.stop = False
        bench.air.status = registers.SENSOR_OK
        bench.air.temp_centi_c = 2000
        bench.bank_centi_c = [2000, 2000]
        self.time_passes(1000 // self.step_ms)
        self.tell("clear_trip", bench.node.guard.trip_cause)
        self.arm(0)
        self.set_up(3000, 5000, 6000)
        self.arm(1)
        self.demand((self.last_heartbeat or 0) ^ 1, levels)
        AnyHost.lights += bench.is_lit()

    def watch(self):
        bench = self.bench
        guard = bench.node.guard
        if guard.trip_cause:
            self.armed = False
        if not bench.is_lit():
            return
        assert self.armed
        assert not bench.door
        assert not bench.stop
        assert self.beaten_ms is not None
        assert self.clock_ms - self.beaten_ms <= self.timeout_ms
        assert guard.trip_cause == 0
        assert guard.air_temp_centi_c <= self.limit["air"]
        assert max(guard.bank_temp_centi_c) <= self.limit["bank"]

    @invariant()
    def lamps_obey(self):
        if hasattr(self, "bench"):
            self.bench.node.step()
            self.watch()


def test_any_host_in_any_world(make_bench):
    AnyHost.bench_class = make_bench
    run_state_machine_as_test(AnyHost, settings=settings(max_examples=100, stateful_step_count=40, deadline=None))
    assert AnyHost.lights > 20  # else the watcher had nothing to watch


def test_two_nodes_share_nothing(make_bench):
    one, other = make_bench(), make_bench()
    one.light(1000)
    other.run(300, beat=False)
    assert not other.is_lit()
    assert isinstance(other.node, Node)
