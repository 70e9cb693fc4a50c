"""The table: every address and name once, bounds that fit their code, and the firmware packs what the table says."""

import struct

import pytest

from lampboard import registers
from lampboard.node import _HOLDING, _IDENTITY, _LIVE
from lampboard.registers import ROWS, width

NUMBERS = {"H": (0, 65535), "h": (-32768, 32767), "I": (0, 4294967295)}


@pytest.mark.parametrize("space", ["input", "holding"])
def test_no_address_twice(space):
    taken = [
        address + offset
        for kind, address, _name, code, count, *_rest in ROWS
        for offset in range(count * width(code))
        if kind == space
    ]
    assert len(taken) == len(set(taken))
    assert taken == sorted(taken)


def test_no_name_twice():
    names = [entry[2] for entry in ROWS]
    assert len(names) == len(set(names))
    assert all(registers.row(name)[2] == name for name in names)
    with pytest.raises(KeyError):
        registers.row("no_such_register")


@pytest.mark.parametrize("entry", ROWS, ids=[entry[2] for entry in ROWS])
def test_row_is_sound(entry):
    space, address, name, code, count, low, high, unit, meaning = entry
    assert space in ("input", "holding")
    assert address >= 0
    assert count >= 1
    smallest, largest = NUMBERS[code]
    assert smallest <= low <= high <= largest
    assert meaning
    ending = {
        "0.01 C": "_centi_c",
        "0.01 %": "_centi_pct",
        "permille": "_permille",
        "s": "_s",
        "ms": ("_ms", "_ms_max"),
    }
    if unit:
        assert name.endswith(ending[unit])
    # The refusal of NO_VALUE as a limit hangs on this.
    assert space == "input" or low > registers.NO_VALUE


@pytest.mark.parametrize(
    ("space", "block"),
    [
        ("input", registers.IDENTITY),
        ("input", registers.LIVE),
        ("holding", registers.DEMAND),
        ("holding", registers.SETTINGS),
    ],
)
def test_block_starts_and_ends_at_a_row(space, block):
    first, count = block
    rows = [entry for entry in ROWS if entry[0] == space and first <= entry[1] < first + count]
    assert rows[0][1] == first
    assert rows[-1][1] + rows[-1][4] * width(rows[-1][3]) == first + count
    assert count <= 125  # the most that one read may ask for: MODBUS application protocol V1.1b3


def test_words_for_each_number():
    assert len(registers.STATES) == registers.row("board_state")[6] + 1
    assert len(registers.TRIPS) == registers.row("trip_cause")[6] + 1 == registers.row("clear_trip")[6] + 1
    assert len(registers.SENSORS) == registers.row("air_status")[6] + 1 == registers.row("bank_status")[6] + 1
    assert len(registers.RESETS) == registers.row("reset_cause")[6] + 1
    assert str(registers.SERVICE_KEY) in registers.row("service_key")[8]


def test_firmware_packs_the_table(bench):
    bench.light(1000, 0, 700, inspect=300)
    for block, fill in ((_IDENTITY, "_identity"), (_LIVE, "_live"), (_HOLDING, "_demand")):
        first, end, form = block
        assert len(getattr(bench.node, fill)(form)) == 2 * (end - first) == struct.calcsize(form)
    assert bench.value("identity_echo") == bench.value("live_echo") == bench.value("heartbeat") == bench.heartbeat
    assert bench.value("map_version") == registers.MAP_VERSION
    assert bench.value("zone_count") == 6
    assert bench.value("bank_count") == 2
    assert bench.value("unique_id") == [0x0102, 0x0304, 0x0506, 0x0708]
    assert bench.value("boot_count") == bench.value("live_boot_count") == 70000
    assert bench.value("reset_cause") == registers.RESET_POWER_ON
    assert bench.value("air_ceiling_centi_c") == 6000
    assert bench.value("bank_ceiling_centi_c") == 7000
    assert bench.value("lit_ceiling_s") == 3600
    assert bench.value("has_inspection") == 1
    bench.run(1500)
    assert bench.value("board_state") == registers.LIT
    assert bench.value("trip_cause") == bench.value("trip_channel") == 0
    assert bench.value("uptime_ms") == pytest.approx(1500, abs=300)
    assert bench.value("door_open") == bench.value("door_openings") == bench.value("stop_pressed") == 0
    assert bench.value("air_status") == registers.SENSOR_OK
    assert bench.value("air_temp_centi_c") == 2500
    assert bench.value("humidity_centi_pct") in (4500, 4501)
    assert bench.value("air_age_ms") <= 500
    assert bench.value("heartbeat_left_ms") == 2500
    assert bench.value("fan_permille") == 1000
    assert bench.value("inspect_applied_permille") == bench.value("inspect_level_permille") == 300
    assert bench.value("loop_gap_ms_max") == 100
    assert bench.value("zone_applied_permille") == bench.value("zone_level_permille") == [1000, 0, 700, 0, 0, 0, 0, 0]
    assert bench.value("zone_lit_ms") == [1500, 0, 1050, 0, 0, 0, 0, 0]
    assert bench.value("bank_status") == [0, 0] + [registers.SENSOR_ABSENT] * 6
    assert bench.value("bank_temp_centi_c") == [2500, 2500] + [registers.NO_VALUE] * 6
    assert bench.value("fan_min_permille") == 200
    assert bench.value("heartbeat_timeout_ms") == 3000
    assert bench.value("air_limit_centi_c") == 5000
    assert bench.value("bank_limit_centi_c") == 6500
    assert bench.value("arm") == 1
    assert bench.value("clear_trip") == bench.value("service_key") == 0


def test_every_register_reads_within_its_bounds(bench):
    """Before anything was written or measured: NO_VALUE where there is no reading, else within low and high."""
    for _space, _address, name, code, count, low, high, _unit, _meaning in ROWS:
        values = bench.value(name)
        for value in values if count > 1 else [values]:
            assert low <= value <= high or (code == "h" and value == registers.NO_VALUE), name
