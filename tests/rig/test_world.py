"""The real firmware in the simulated chamber, and every fault switch. Judged by what the lamps really did."""

import ast
from pathlib import Path

import pytest

from lampboard import registers
from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.rig.design import RigDesign

REACTION_S = 0.25  # design.md: dark within 250 ms of a condition becoming visible


def dark_since_s(desk) -> float:
    """Virtual time at which the last treatment lamp went dark."""
    assert desk.truth.dark
    return max(change.t_s for change in desk.truth.changes if change.what == "zone")


def still_dark(desk, seconds: float = 20.0) -> bool:
    """Keeps demanding full light; True if none falls."""
    before = [desk.truth.lit_s(zone) for zone in range(6)]
    desk.light(seconds)
    return [desk.truth.lit_s(zone) for zone in range(6)] == before


def test_dark_at_boot_and_until_armed(desk):
    bench = desk()
    assert bench.read("zone_count") == 6
    assert bench.read("bank_count") == 3
    assert bench.read("boot_count") == 1
    assert registers.RESETS[bench.read("reset_cause")] == "power on"
    assert bench.state == "dark"
    bench.wait(6)
    assert still_dark(bench)
    assert bench.truth.change_count == len(bench.truth.changes)


def test_lamps_follow_demand_and_counters_follow_lamps(lit):
    bench = lit()
    assert bench.state == "lit"
    assert bench.truth.zone_permille == [1000] * 6
    bench.light(300, level=350)
    bench.demand(level=0)
    assert bench.truth.dark
    counted = bench.read("zone_lit_ms")
    assert counted[6:] == [0, 0]
    for zone in range(6):
        assert bench.truth.lit_s(zone) == pytest.approx(60 + 0.35 * 300, abs=0.5)
        assert counted[zone] / 1000 == pytest.approx(bench.truth.lit_s(zone), abs=0.002)


def test_truth_integrates_its_own_list_of_changes(lit):
    bench = lit()
    bench.light(30, level=120)
    for zone in range(6):
        changes = [change for change in bench.truth.changes if (change.what, change.index) == ("zone", zone)]
        ends_s = [change.t_s for change in changes[1:]] + [bench.world.now_s]
        by_hand = sum(c.value / 1000 * (end_s - c.t_s) for c, end_s in zip(changes, ends_s, strict=True))
        assert bench.truth.lit_s(zone) == pytest.approx(by_hand, abs=1e-9)


def test_readings_follow_the_plant(lit):
    bench = lit()
    bench.light(3600)
    plant = bench.world.plant
    assert bench.read("air_temp_centi_c") / 100 == pytest.approx(plant.air_temp_c, abs=0.15)
    assert bench.read("humidity_centi_pct") / 100 == pytest.approx(plant.humidity_pct, abs=0.15)
    banks = bench.read("bank_temp_centi_c")
    assert [temp / 100 for temp in banks[:3]] == pytest.approx(plant.temps_c[1:], abs=0.4)
    assert banks[3:] == [registers.NO_VALUE] * 5
    assert plant.temps_c[1] > plant.air_temp_c + 12


def test_settles_as_designed_without_a_trip(lit):
    bench = lit()
    bench.light(3 * 3600)
    assert bench.state == "lit"
    assert bench.world.plant.temps_c == pytest.approx([32.0, 45.0, 45.0, 45.0], abs=0.1)
    assert bench.truth.fan_permille == 1000
    assert bench.world.firmware_errors == []


def test_sensors_never_look_frozen(lit):
    bench = lit()
    seen = set()
    for _ in range(60):
        bench.demand(level=0)
        bench.wait(1)
        seen.add((bench.read("air_temp_centi_c"), bench.read("humidity_centi_pct")))
    assert len(seen) > 30


def test_door(lit):
    bench = lit()
    bench.world.at(opened_s := bench.world.now_s + 1.03, lambda: bench.world.door(True))
    bench.light(5)
    assert dark_since_s(bench) - opened_s <= REACTION_S
    assert bench.read("door_open") == 1
    assert still_dark(bench)
    bench.world.door(False)
    bench.wait(2)
    assert bench.truth.dark  # closing relights nothing by itself
    bench.light(2)
    assert not bench.truth.dark
    assert bench.read("door_openings") == 1
    assert [c.value for c in bench.truth.changes if c.what == "door"] == [1, 0]


def test_stop_button_latches(lit):
    bench = lit()
    bench.world.press_stop()
    pressed_s = bench.world.now_s
    bench.light(2)
    assert dark_since_s(bench) - pressed_s <= REACTION_S
    bench.world.press_stop(False)
    assert still_dark(bench)
    assert bench.trip == "stop button pressed or lamp supply cut"
    bench.write("clear_trip", registers.TRIP_STOP)
    bench.arm()
    bench.light(2)
    assert not bench.truth.dark


@pytest.mark.parametrize(
    ("fault", "trip", "within_s"),
    [
        ("silent", "air sensor silent", 3.0),
        ("crc", "air sensor checksum wrong", 3.0),
        ("range", "air sensor out of range", 3.0),
        ("frozen", "air sensor frozen", 120.0),
    ],
)
def test_air_sensor_faults_trip_and_clear(lit, fault, trip, within_s):
    bench = lit()
    bench.world.air_sensor(fault)
    broken_s = bench.world.now_s
    bench.light(within_s + 3)
    assert bench.trip == trip
    assert dark_since_s(bench) - broken_s <= within_s + 0.5 + REACTION_S  # half a second between readings
    assert dark_since_s(bench) - broken_s >= within_s - 0.6  # not before its time: no trip at a hiccup
    bench.world.air_sensor("ok")
    assert still_dark(bench)
    bench.write("clear_trip", registers.TRIPS.index(trip))
    bench.arm()
    bench.light(2)
    assert not bench.truth.dark


def test_drifting_sensor_misleads_the_board_but_not_the_truth(lit):
    bench = lit()
    bench.world.board.air_chip.drift_k_h = 60.0
    bench.world.air_sensor("drift")
    bench.light(600)
    assert bench.read("air_temp_centi_c") / 100 == pytest.approx(bench.world.plant.air_temp_c + 10, abs=0.2)
    bench.light(600)
    assert bench.trip == "air over its limit"
    assert bench.world.plant.air_temp_c < 35


@pytest.mark.parametrize("fault", ["open", "short"])
def test_broken_thermistor(lit, fault):
    bench = lit()
    bench.world.ntc(1, fault)
    broken_s = bench.world.now_s
    bench.light(4)
    assert bench.trip == "bank sensor open or shorted"
    assert bench.read("trip_channel") == 2
    assert dark_since_s(bench) - broken_s <= 1.0 + 0.5 + REACTION_S
    assert bench.read("bank_status")[:4] == [0, registers.SENSOR_RANGE, 0, registers.SENSOR_ABSENT]
    bench.world.ntc(1, "ok")
    bench.wait(2)
    bench.write("clear_trip", registers.TRIP_BANK_RANGE)


def test_dead_fan_in_a_hot_room_ends_at_a_hard_limit(lit):
    bench = lit(ambient_c=30.0)
    bench.world.fan_dead = True
    assert bench.world.fan_dead
    bench.light(3600)
    assert bench.trip in ("air over its limit", "bank over its limit")
    assert bench.truth.dark
    assert bench.world.plant.air_temp_c <= 40.3
    assert max(bench.world.plant.temps_c) <= 63.5


def test_hot_room_alone_passes_the_air_limit(lit):
    bench = lit()
    bench.world.ambient_c = 34.0
    assert bench.world.ambient_c == 34.0
    bench.light(4 * 3600)
    assert bench.trip == "air over its limit"


def test_fire_trips_by_its_rise(lit):
    bench = lit()
    bench.world.extra_heat_w = 2000.0
    assert bench.world.extra_heat_w == 2000.0
    bench.light(40)
    assert bench.trip == "air warming faster than plausible"
    assert bench.truth.dark


def test_reboot_is_dark_at_once_and_forgets_arming(lit):
    bench = lit()
    cut_s = bench.world.now_s
    bench.world.reboot()
    assert dark_since_s(bench) == cut_s
    with pytest.raises(TimeoutError):
        bench.read("uptime_ms")
    bench.wait(6)
    assert bench.read("boot_count") == 2
    assert registers.RESETS[bench.read("reset_cause")] == "power on"
    assert bench.read("zone_lit_ms") == [0] * 8
    assert bench.state == "dark"
    assert still_dark(bench)
    assert all(bench.truth.lit_s(zone) > 59 for zone in range(6))  # the truth forgets nothing


def test_hang_keeps_lamps_lit_until_the_watchdog(lit):
    bench = lit()
    bench.world.hang()
    hung_s = bench.world.now_s
    bench.wait(1)
    assert not bench.truth.dark
    bench.wait(10)
    watchdog_s = bench.world.design.watchdog_ms / 1000
    assert watchdog_s - 0.1 <= dark_since_s(bench) - hung_s <= watchdog_s + 0.2
    assert registers.RESETS[bench.read("reset_cause")] == "watchdog"
    assert bench.read("boot_count") == 2
    assert still_dark(bench)


def test_exception_in_the_firmware_resets_it(lit):
    bench = lit()
    bench.world.crash()
    crashed_s = bench.world.now_s
    bench.wait(8)
    assert dark_since_s(bench) - crashed_s <= 0.1
    assert registers.RESETS[bench.read("reset_cause")] == "firmware error"
    assert [str(error) for error in bench.world.firmware_errors] == ["memory allocation failed"]
    bench.world.reboot()
    bench.wait(8)
    assert registers.RESETS[bench.read("reset_cause")] == "power on"  # remembered for one boot only


def test_silence_of_the_host_darkens(lit):
    bench = lit()
    bench.demand()
    last_s = bench.world.now_s
    bench.wait(10)
    assert 2.9 <= dark_since_s(bench) - last_s <= 3.0 + REACTION_S
    assert bench.state == "ready"
    bench.light(1)
    assert not bench.truth.dark


def test_ticks_wrap_while_lit(desk):
    bench = desk(ticks_start_ms=2**30 - 30_000)
    bench.wait(6)
    bench.arm()
    bench.light(60)
    assert bench.world.board.ticks_ms() < 60_000
    assert bench.state == "lit"
    assert bench.read("uptime_ms") == pytest.approx(66_000, abs=1000)
    for zone, counted_ms in enumerate(bench.read("zone_lit_ms")[:6]):
        assert counted_ms / 1000 == pytest.approx(bench.truth.lit_s(zone), abs=0.21)
    bench.wait(10)
    assert bench.truth.dark  # the heartbeat limit holds across the wrap too


def test_service_mode_leaves_until_a_power_cycle(desk):
    bench = desk()
    bench.wait(6)
    bench.write("service_key", registers.SERVICE_KEY)
    bench.wait(60)
    with pytest.raises(TimeoutError):
        bench.read("uptime_ms")
    bench.world.reboot()
    bench.wait(6)
    assert bench.read("boot_count") == 2


def test_ceilings_and_watchdog_are_those_of_the_shipped_board_file():
    """The file itself imports pins; its constants are read from its text."""
    names = ("AIR_CEILING_CENTI_C", "BANK_CEILING_CENTI_C", "LIT_CEILING_S", "WATCHDOG_MS")
    text = (Path(registers.__file__).parent / "boards" / "pico.py").read_text(encoding="utf-8")
    shipped = {
        target.id: eval(compile(ast.Expression(line.value), "pico.py", "eval"))
        for line in ast.parse(text).body
        if isinstance(line, ast.Assign)
        for target in line.targets
        if isinstance(target, ast.Name) and target.id in names
    }
    design = RigDesign()
    ours = (design.air_ceiling_c * 100, design.bank_ceiling_c * 100, design.lit_ceiling_s, design.watchdog_ms)
    assert shipped == dict(zip(names, ours, strict=True))


def test_inspection_bank(desk):
    bench = desk()
    bench.wait(6)
    bench.arm()
    bench.demand(level=0, inspection=300)
    assert bench.truth.inspection_permille == 300
    assert bench.truth.dark
    bench.world.door(True)
    bench.wait(0.3)
    assert bench.truth.inspection_permille == 0


@pytest.mark.parametrize(("zones", "banks"), [(1, 1), (8, 8), (5, 2)])
def test_chambers_of_other_sizes(desk, zones, banks):
    chamber = Chamber(
        inspection=False,
        zones=tuple(Zone(name=f"{i}", bank=i % banks + 1, irradiance_w_m2=80.0) for i in range(zones)),
    )
    bench = desk(chamber=chamber)
    bench.wait(6)
    bench.arm()
    bench.light(5)
    assert (bench.read("zone_count"), bench.read("bank_count")) == (zones, banks)
    assert bench.read("has_inspection") == 0
    assert bench.read("zone_applied_permille") == [1000] * zones + [0] * (8 - zones)


def story(bench):
    bench.wait(6)
    bench.arm()
    bench.world.at(100, lambda: bench.world.door(True))
    bench.world.at(130.5, lambda: bench.world.door(False))
    bench.world.at(200, bench.world.hang)
    seen = []
    for _ in range(300):
        try:
            bench.demand()
            seen.append(
                (bench.read("air_temp_centi_c"), bench.read("humidity_centi_pct"), bench.read("bank_temp_centi_c"))
            )
        except TimeoutError:
            seen.append(None)
        bench.wait(1)
    return seen, list(bench.truth.changes), bench.world.plant.temps_c


def test_same_seed_same_world_other_seed_other_noise(desk):
    first, again, other = story(desk(seed=7)), story(desk(seed=7)), story(desk(seed=8))
    assert first == again
    assert None in first[0]
    assert first[0] != other[0]
    assert desk(seed=7).read("unique_id") == desk(seed=7).read("unique_id") != desk(seed=8).read("unique_id")


def test_at_runs_in_order_of_time_then_of_asking(desk):
    world, done = desk().world, []
    for t_s, what in ((2.0, "c"), (1.0, "a"), (2.0, "d"), (1.5, "b"), (9.0, "never")):
        world.at(t_s, lambda what=what: done.append((what, world.now_s)))
    world.advance(5)
    assert done == [("a", 1.0), ("b", 1.5), ("c", 2.0), ("d", 2.0)]


def test_time_only_moves_forward_and_reaches_what_was_asked(desk):
    world = desk().world
    for t_s in (0.1 + 0.2, 1.0005, 16.1, 16.0, 3):
        world.advance(t_s)
        assert world.now_s >= t_s
    assert world.now_s == 16.1


def test_list_of_changes_is_bounded_and_says_so(desk):
    truth = desk().truth
    for turn in range(100_010):
        truth.note("door", turn % 2)
    assert len(truth.changes) == 100_000
    assert truth.change_count > 100_009
