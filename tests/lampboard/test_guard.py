"""Every rule of the guard, one test each, named like the rule; then what holds for all of them."""

import pytest

from lampboard import guard as g
from lampboard.guard import Guard
from lampboard.registers import (
    DARK,
    LIT,
    READY,
    SENSOR_CRC,
    SENSOR_FROZEN,
    SENSOR_OK,
    SENSOR_RANGE,
    SENSOR_SILENT,
    SERVICE_KEY,
    TRIP_AIR_CRC,
    TRIP_AIR_FROZEN,
    TRIP_AIR_OVER,
    TRIP_AIR_RANGE,
    TRIP_AIR_RISE,
    TRIP_AIR_SILENT,
    TRIP_BANK_OVER,
    TRIP_BANK_RANGE,
    TRIP_BANK_RISE,
    TRIP_LIT_TOO_LONG,
    TRIP_NONE,
    TRIP_STOP,
    TRIPPED,
)
from lampboard.rtu import ILLEGAL_VALUE, NOT_NOW, OK

STEP_MS = 100
NOTHING = (None, None)


class World:
    """A guard and what it is told each 100 ms. Healthy until a test says otherwise."""

    def __init__(self, lit_ceiling_s=100000, has_inspection=True):
        self.guard = Guard(4, 2, has_inspection, 6000, 7000, lit_ceiling_s)
        self.now = 0
        self.door = False
        self.stop = False
        self.air_status = SENSOR_OK
        self.air_centi_c = 2500
        self.banks = [2500, 2500]  # None: open or shorted
        self.flicker = True
        self.host = True
        self.heartbeat = 0

    def step(self, ms=STEP_MS):
        guard = self.guard
        self.now += ms
        guard.see(self.door, self.stop)
        if self.host and self.now % 1000 == 0:
            self.beat()
        if self.now % 500 == 0:
            reading = (self.air_centi_c, 4500 + (self.now // 500 % 2 if self.flicker else 0))
            guard.see_air(self.now, self.air_status, *(reading if self.air_status == SENSOR_OK else NOTHING))
            guard.see_banks(self.now, [(SENSOR_RANGE, None) if t is None else (SENSOR_OK, t) for t in self.banks])
        guard.judge(self.now)

    def run(self, ms):
        for _ in range(ms // STEP_MS):
            self.step()

    def beat(self):
        self.heartbeat = (self.heartbeat + 1) & 0xFFFF
        return self.write(heartbeat=self.heartbeat)

    def write(self, **want):
        return self.guard.write(self.now, want)

    def arm(self):
        return self.write(air_limit_centi_c=5000, bank_limit_centi_c=6500, arm=1)

    def demand(self, *levels, inspect=0):
        self.beat()
        code = self.write(zone_level_permille=list(levels) + [0] * (8 - len(levels)), inspect_level_permille=inspect)
        self.guard.judge(self.now)
        return code

    def light(self, *levels, inspect=0):
        self.run(1000)
        assert self.arm() == OK
        assert self.demand(*(levels or (1000,)), inspect=inspect) == OK
        assert self.guard.any_lit
        return self

    def dark(self):
        return not any(self.guard.applied_permille) and self.guard.inspect_applied_permille == 0

    def tripped(self, cause, channel=0):
        assert (self.guard.trip_cause, self.guard.trip_channel) == (cause, channel)
        assert self.guard.state() == TRIPPED
        assert self.dark()
        assert not self.guard.armed
        assert self.guard.level_permille == [0] * 8
        return True

    def ms_until_dark(self, limit_ms=400000):
        begun = self.now
        while not self.dark():
            self.step()
            assert self.now - begun < limit_ms, "it stayed lit"
        return self.now - begun

    def snapshot(self):
        return {name: list(value) if isinstance(value, list) else value for name, value in vars(self.guard).items()}


@pytest.fixture
def world():
    return World()


def test_tables_name_each_rule_once():
    names = [row[0] for row in g.TRIP_RULES + g.LIT_RULES + g.WRITE_RULES]
    assert len(names) == len(set(names))
    assert {row[1] for row in g.TRIP_RULES} == set(range(1, 12))


def test_times_fit_together():
    """One lost reading is no trip, a heartbeat a second is enough, and the grace outlasts the silence it forgives."""
    assert 2 * 500 <= g.BANK_LOST_MS < g.AIR_LOST_MS < g.BOOT_GRACE_MS < g.AIR_FROZEN_MS
    assert g.HEARTBEAT_TIMEOUT_MS >= 3 * 1000
    assert g.RISE_STEP_MS * (g.RISE_STEPS - 1) >= 30000
    assert g.BOOK_MS <= 250


# --- what light needs ---
def test_boots_dark(world):
    """Before a first heartbeat, arming or reading, whatever is demanded."""
    assert world.guard.state() == DARK
    assert world.write(zone_level_permille=[1000] * 4 + [0] * 4, inspect_level_permille=1000) == OK
    world.guard.judge(0)
    assert world.dark()
    assert world.guard.level_permille == [0] * 8


def test_armed(world):
    world.run(1000)
    world.demand(1000, inspect=1000)
    assert world.dark()
    assert world.arm() == OK
    world.run(300)
    assert world.dark()  # the demand made before is forgotten
    assert world.guard.state() == READY
    world.demand(1000)
    assert world.guard.state() == LIT
    world.write(arm=0)
    world.guard.judge(world.now)
    assert world.dark()
    assert world.guard.state() == DARK


def test_arming_is_light_only_with_a_demand_of_its_own(world):
    world.run(1000)
    levels = [1000] * 4 + [0] * 4
    world.write(heartbeat=9, zone_level_permille=levels, air_limit_centi_c=5000, bank_limit_centi_c=6500, arm=1)
    world.run(300)
    assert world.guard.state() == READY
    assert world.dark()


def test_door(world):
    world.light(1000, inspect=500)
    world.door = True
    world.step()
    assert world.dark()
    assert world.guard.door_openings == 1
    world.demand(1000, inspect=500)
    assert world.dark()
    world.door = False
    world.run(3000)
    assert world.dark()  # closing the door relights nothing
    assert world.guard.state() == READY
    world.demand(1000)
    assert not world.dark()
    assert world.guard.door_openings == 1


def test_heartbeat(world):
    world.light(1000, inspect=500)
    world.host = False
    assert world.ms_until_dark() == 3100  # the first pass after 3000 ms
    assert world.guard.heartbeat_left_ms(world.now) == 0
    world.beat()
    world.run(300)
    assert world.dark()  # the host is back, but has not demanded
    world.demand(1000)
    assert not world.dark()


def test_heartbeat_must_change(world):
    world.light()
    world.host = False
    begun = world.now
    while not world.dark():
        world.write(heartbeat=world.heartbeat)
        world.step()
    assert world.now - begun == 3100


@pytest.mark.parametrize("number", [0, 1, 65535])
def test_heartbeat_never_heard(world, number):
    """Times near 0 do not count as a heartbeat; the first number, whatever it is, does."""
    world.host = False
    world.run(1000)
    world.arm()
    world.write(zone_level_permille=[1000] + [0] * 7)
    world.guard.judge(world.now)
    assert world.dark()
    world.write(heartbeat=number, zone_level_permille=[1000] + [0] * 7)
    world.guard.judge(world.now)
    assert not world.dark()


def test_heartbeat_timeout_is_the_hosts(world):
    world.light()
    world.host = False
    assert world.write(heartbeat_timeout_ms=1000) == OK
    assert world.ms_until_dark() == 1100


def test_air_known(world):
    world.air_status = SENSOR_SILENT
    world.run(1000)
    assert world.arm() == OK
    world.demand(1000)
    assert world.guard.trip_cause == TRIP_NONE  # within the grace after boot
    assert world.dark()
    world.air_status = SENSOR_OK
    world.run(500)
    world.demand(1000)
    assert not world.dark()


def test_banks_known(world):
    world.banks[1] = None
    world.run(1000)
    assert world.arm() == OK
    world.demand(1000)
    assert world.guard.trip_cause == TRIP_NONE  # within the grace after boot
    assert world.dark()
    world.banks[1] = 2500
    world.run(500)
    world.demand(1000)
    assert not world.dark()


# --- trips ---
def test_stop(world):
    world.light(1000, inspect=500)
    world.stop = True
    world.step()
    assert world.tripped(TRIP_STOP)
    world.stop = False
    world.run(5000)
    assert world.tripped(TRIP_STOP)


def test_air_over(world):
    world.light()
    world.run(60000)
    for temp in range(2500, 5001, 100):  # slowly, so that it is not the rise that trips
        world.air_centi_c = temp
        world.run(10000)
    assert not world.dark()
    world.air_centi_c = 5001
    world.run((500 - world.now % 500) or 500)
    assert world.tripped(TRIP_AIR_OVER)  # in the very pass in which it was read
    assert world.guard.fan_permille == 1000


def test_air_over_the_ceiling_without_a_limit(world):
    world.air_centi_c = 6000
    world.run(1000)
    assert world.guard.trip_cause == TRIP_NONE
    world.air_centi_c = 6001
    world.run(500)
    assert world.tripped(TRIP_AIR_OVER)


def test_lower_limit_trips_at_once(world):
    world.light()
    assert world.write(air_limit_centi_c=2400) == OK
    world.step()
    assert world.tripped(TRIP_AIR_OVER)


@pytest.mark.parametrize("bank", [0, 1])
def test_bank_over(world, bank):
    world.banks[bank] = 6500
    world.light()
    world.run(1000)
    assert not world.dark()
    world.banks[bank] = 6501
    world.run(500)
    assert world.tripped(TRIP_BANK_OVER, bank + 1)
    assert world.guard.fan_permille == 1000


def test_air_rise(world):
    world.light()
    world.run(40000)
    world.air_centi_c += 500
    world.run(1000)
    assert not world.dark()
    world.air_centi_c += 1
    world.run(500)
    assert world.tripped(TRIP_AIR_RISE)


def test_air_rise_in_small_steps(world):
    """5.4 C in 30 s trips, 4.2 C in 40 s does not: the window is 30 to 40 s."""
    world.light()
    world.run(40000)
    for _ in range(240):
        world.air_centi_c += 5  # each 500 ms: 4.2 C in 42 s
        world.run(500)
        if world.now % 4000 == 0:
            world.air_centi_c -= 5
    assert not world.dark()
    world.air_centi_c = 2500
    world.run(60000)
    for _ in range(60):
        world.air_centi_c += 9
        world.run(500)
    assert world.tripped(TRIP_AIR_RISE)


@pytest.mark.parametrize("bank", [0, 1])
def test_bank_rise(world, bank):
    world.light()
    world.run(40000)
    world.banks[bank] += 2000
    world.run(1000)
    assert not world.dark()
    world.banks[bank] += 1
    world.run(500)
    assert world.tripped(TRIP_BANK_RISE, bank + 1)


def test_a_normal_start_is_no_trip(world):
    """Plates 12 C and air 3 C warmer in the first half minute, then slower: invented, and harsher than we expect."""
    world.light(1000, 1000, 1000, 1000)
    for half_second in range(1200):
        share = 1000 * half_second // (120 + half_second)
        world.banks = [2500 + 3500 * share // 1000] * 2
        world.air_centi_c = 2500 + 900 * share // 1000
        world.run(500)
    assert not world.dark()


@pytest.mark.parametrize(
    ("status", "cause"),
    [(SENSOR_SILENT, TRIP_AIR_SILENT), (SENSOR_CRC, TRIP_AIR_CRC), (SENSOR_RANGE, TRIP_AIR_RANGE)],
    ids=["air_silent", "air_crc", "air_range"],
)
def test_air_sensor_faults(world, status, cause):
    world.light()
    world.run(10000)
    world.air_status = status
    world.run(2500)
    world.air_status = SENSOR_OK
    world.run(500)
    assert not world.dark()  # a short fault is ridden out
    last_good = world.now
    world.air_status = status
    world.ms_until_dark()
    assert world.now - last_good == 3100
    assert world.tripped(cause)


def test_air_silent_when_nobody_reads(world):
    """No reading at all, as when the loop forgets the sensor: the last status says ok, the age does not."""
    world.light()
    world.run(10000)
    last = world.guard.air_ok_ms
    world.guard.judge(last + 3000)
    assert world.guard.trip_cause == TRIP_NONE
    world.guard.judge(last + 3001)
    assert world.tripped(TRIP_AIR_SILENT)


def test_air_faults_that_take_turns(world):
    world.light()
    world.run(10000)
    for status in (SENSOR_SILENT, SENSOR_CRC, SENSOR_RANGE) * 2:
        world.air_status = status
        world.run(1000)
    assert world.dark()
    assert world.guard.state() == TRIPPED


def test_sensor_faults_trip_before_anyone_starts(world):
    world.air_status = SENSOR_CRC
    world.run(5000)
    assert world.guard.trip_cause == TRIP_NONE
    world.step()
    assert world.tripped(TRIP_AIR_CRC)


def test_air_frozen(world):
    world.light()
    world.run(10000)
    world.flicker = False
    world.run(500)
    changed = world.guard.air_changed_ms
    world.ms_until_dark()
    assert world.now - changed == 120100
    assert world.tripped(TRIP_AIR_FROZEN)
    assert world.guard.shown_air_status(world.now) == SENSOR_FROZEN
    world.flicker = True
    world.run(1500)
    assert world.guard.shown_air_status(world.now) == SENSOR_OK


@pytest.mark.parametrize("bank", [0, 1])
def test_bank_range(world, bank):
    world.light()
    world.run(10000)
    world.banks[bank] = None
    world.run(500)
    world.banks[bank] = 2500
    world.run(500)
    assert not world.dark()  # one bad reading is ridden out
    last_good = world.now
    world.banks[bank] = None
    world.ms_until_dark()
    assert world.now - last_good == 1100
    assert world.tripped(TRIP_BANK_RANGE, bank + 1)


def test_lit_too_long():
    world = World(lit_ceiling_s=10).light(0, 1)  # any level burns
    assert world.ms_until_dark() <= 10000 + g.BOOK_MS + STEP_MS
    assert world.tripped(TRIP_LIT_TOO_LONG, 2)
    assert world.write(clear_trip=TRIP_LIT_TOO_LONG) == OK
    world.light(0, 1)
    assert world.ms_until_dark() > 9000  # arming starts the count anew


def test_lit_too_long_adds_up():
    world = World(lit_ceiling_s=10).light(1000)
    world.run(6000)
    world.demand(0)
    world.run(60000)
    world.demand(1000)
    assert world.ms_until_dark() <= 4000 + g.BOOK_MS + STEP_MS
    assert world.tripped(TRIP_LIT_TOO_LONG, 1)


def test_first_cause_latches(world):
    world.light()
    world.stop = True
    world.step()
    world.air_centi_c = 8000
    world.air_status = SENSOR_CRC
    world.run(10000)
    assert world.tripped(TRIP_STOP)


# --- what may be written ---
def refused(world, code, **want):
    before = world.snapshot()
    assert world.write(**want) == code
    assert world.snapshot() == before
    return True


def test_limit_ceiling(world):
    for name, ceiling in (("air_limit_centi_c", 6000), ("bank_limit_centi_c", 7000)):
        assert refused(world, ILLEGAL_VALUE, **{name: ceiling + 1})
        assert world.write(**{name: ceiling}) == OK
        assert world.write(**{name: 3000}) == OK
        assert world.write(**{name: ceiling}) == OK  # back up to the ceiling is allowed


def test_zone_fitted(world):
    assert refused(world, ILLEGAL_VALUE, zone_level_permille=[0] * 4 + [1] + [0] * 3)
    assert refused(world, ILLEGAL_VALUE, zone_level_permille=[0] * 7 + [1])


def test_inspection_fitted():
    bare = World(has_inspection=False)
    assert refused(bare, ILLEGAL_VALUE, inspect_level_permille=1)
    assert bare.write(inspect_level_permille=0) == OK


def test_clear_number(world):
    assert world.write(clear_trip=TRIP_NONE) == OK
    assert refused(world, ILLEGAL_VALUE, clear_trip=TRIP_STOP)
    world.run(1000)
    world.stop = True
    world.step()
    world.stop = False
    world.step()
    assert refused(world, ILLEGAL_VALUE, clear_trip=TRIP_NONE)
    assert refused(world, ILLEGAL_VALUE, clear_trip=TRIP_AIR_OVER)
    assert world.write(clear_trip=TRIP_STOP) == OK
    assert world.guard.state() == DARK


def test_service_key(world):
    assert refused(world, ILLEGAL_VALUE, service_key=SERVICE_KEY + 1)
    assert refused(world, ILLEGAL_VALUE, service_key=0)
    assert not world.guard.service
    assert world.write(service_key=SERVICE_KEY) == OK
    assert world.guard.service


def test_service_dark(world):
    world.run(1000)
    world.arm()
    assert refused(world, NOT_NOW, service_key=SERVICE_KEY)
    world.demand(1000)
    assert refused(world, NOT_NOW, service_key=SERVICE_KEY)
    world.write(arm=0)
    assert refused(world, NOT_NOW, service_key=SERVICE_KEY)  # still lit until the next pass
    world.step()
    assert world.write(service_key=SERVICE_KEY) == OK


def test_arm_limits(world):
    world.run(1000)
    assert refused(world, NOT_NOW, arm=1)
    assert world.write(air_limit_centi_c=5000) == OK
    assert refused(world, NOT_NOW, arm=1)
    assert world.write(bank_limit_centi_c=6500) == OK
    assert world.write(arm=1) == OK


def test_arm_trip(world):
    world.run(1000)
    world.stop = True
    world.step()
    world.stop = False
    world.step()
    assert refused(world, NOT_NOW, air_limit_centi_c=5000, bank_limit_centi_c=6500, arm=1)
    assert refused(world, NOT_NOW, air_limit_centi_c=5000, bank_limit_centi_c=6500, arm=1, clear_trip=TRIP_STOP)
    assert world.write(clear_trip=TRIP_STOP, arm=0) == OK
    assert world.arm() == OK


def test_arm_dark(world):
    world.light()
    assert refused(world, NOT_NOW, arm=1)
    world.demand(0)
    assert world.write(arm=1) == OK


def test_clear_gone(world):
    world.run(6000)
    world.arm()
    world.stop = True
    world.step()
    assert refused(world, NOT_NOW, clear_trip=TRIP_STOP)
    world.stop = False
    world.step()
    # for every trip: both sensors well now
    world.air_status = SENSOR_CRC
    world.run(500)
    assert refused(world, NOT_NOW, clear_trip=TRIP_STOP)
    world.air_status = SENSOR_OK
    world.banks[1] = None
    world.run(500)
    assert refused(world, NOT_NOW, clear_trip=TRIP_STOP)
    world.banks[1] = 2500
    world.run(500)
    assert world.write(clear_trip=TRIP_STOP) == OK
    world.step()
    assert world.guard.state() == DARK


def test_clear_gone_needs_every_rule(world):
    """A sensor frozen while the board was tripped for another cause."""
    world.run(6000)
    world.stop = True
    world.step()
    world.stop = False
    world.flicker = False
    world.run(121000)
    assert refused(world, NOT_NOW, clear_trip=TRIP_STOP)
    world.flicker = True
    world.run(1000)
    assert world.write(clear_trip=TRIP_STOP) == OK


def test_clear_cool(world):
    world.light()
    world.run(60000)
    world.stop = True
    world.step()
    world.stop = False
    for air, bank, code in ((4701, 2500, NOT_NOW), (4700, 2500, OK)):
        fresh = World().light()
        fresh.stop = True
        fresh.step()
        fresh.stop = False
        fresh.air_centi_c, fresh.banks = air, [bank] * 2
        fresh.run(60000)
        assert fresh.write(clear_trip=TRIP_STOP) == code
    for bank, code in ((6201, NOT_NOW), (6200, OK)):
        fresh = World().light()
        fresh.stop = True
        fresh.step()
        fresh.stop = False
        fresh.banks = [2500, bank]
        fresh.run(60000)
        assert fresh.write(clear_trip=TRIP_STOP) == code


def test_trip_survives_everything_but_clearing(world):
    world.light()
    world.stop = True
    world.step()
    world.stop = False
    world.write(arm=0)
    world.write(air_limit_centi_c=4000)
    world.demand(1000, inspect=1000)
    world.run(10000)
    assert world.tripped(TRIP_STOP)


# --- fan, light counters ---
def test_fan(world):
    world.run(1000)
    world.write(fan_min_permille=300)
    world.step()
    assert world.guard.fan_permille == 300
    world.arm()
    world.demand(0, inspect=1)
    assert world.guard.fan_permille == 1000
    world.demand(0)
    assert world.guard.fan_permille == 300


@pytest.mark.parametrize(
    ("air", "bank", "fan"), [(3501, 2500, 1000), (3500, 2500, 300), (2500, 3501, 1000), (2500, 3500, 300)]
)
def test_fan_cools_what_is_warm(world, air, bank, fan):
    world.air_centi_c = air
    world.banks = [2500, bank]
    world.write(fan_min_permille=300)
    world.run(1000)
    assert world.guard.fan_permille == fan


def test_fan_full_while_no_temperature_is_known(world):
    world.guard.judge(0)
    assert world.guard.fan_permille == 1000


def test_lit_counter_keeps_the_remainder(world):
    world.light(333, 1000)
    for ms in (7, 13, 101, 3, 1):
        world.step(ms)
    world.guard.book(world.now)
    assert world.guard.lit_ms[:2] == [333 * 125 // 1000, 125]
    for _ in range(7):
        world.step(125)
    world.guard.book(world.now)
    assert world.guard.lit_ms[:2] == [333, 1000]


def test_lit_counter_counts_no_darkness(world):
    world.light(1000)
    world.run(1000)
    world.door = True
    world.run(5000)
    world.door = False
    world.run(5000)
    # 100 ms until the pass in which the open door was seen
    assert world.guard.lit_ms[0] == 1100
    world.demand(0, 500)
    world.run(2000)
    world.guard.book(world.now)
    assert world.guard.lit_ms[:2] == [1100, 1000]


def test_lit_counter_wraps_at_32_bits(world):
    world.light(1000)
    world.guard.lit_ms[0] = 0xFFFFFFFF - 499
    world.run(1000)
    world.guard.book(world.now)
    assert world.guard.lit_ms[0] == 500


def test_inspection_is_not_treatment(world):
    world.run(1000)
    world.arm()
    world.demand(0, inspect=1000)
    assert world.guard.state() == READY
    assert world.guard.inspect_applied_permille == 1000
    assert world.guard.lit_ms == [0] * 8


def test_a_rule_that_says_nothing_says_no(world, monkeypatch):
    world.light()
    monkeypatch.setattr(g, "TRIP_RULES", (*g.TRIP_RULES, ("mute", 1, lambda guard, now: None)))
    world.step()
    assert world.tripped(1)
    fresh = World()
    monkeypatch.undo()
    monkeypatch.setattr(g, "LIT_RULES", (*g.LIT_RULES, ("mute", lambda guard, now: None)))
    fresh.run(1000)
    fresh.arm()
    fresh.demand(1000)
    assert fresh.dark()
    monkeypatch.setattr(g, "WRITE_RULES", (*g.WRITE_RULES, ("mute", lambda guard, now, want: None)))
    assert fresh.write(fan_min_permille=1) == NOT_NOW
