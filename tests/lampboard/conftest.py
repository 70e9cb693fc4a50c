"""A board layer whose inputs a test sets and whose lamps it looks at; the firmware above it is the real one."""

import struct

import pytest

from lampboard import registers
from lampboard.node import Node
from lampboard.registers import SENSOR_OK, UNIT_ID, width
from lampboard.rtu import crc16, sealed
from lampboard.sensors import ntc

PERIOD_MS = 1 << 30  # MicroPython's ticks wrap here on the RP2040


class BenchAir:
    conversion_ms = 16

    def __init__(self):
        self.status = SENSOR_OK
        self.temp_centi_c = 2500
        self.humidity_centi_pct = 4500
        self.flicker = True
        self.fetches = 0

    def start(self):
        pass

    def fetch(self):
        self.fetches += 1
        if self.status != SENSOR_OK:
            return self.status, registers.NO_VALUE, registers.NO_VALUE
        return SENSOR_OK, self.temp_centi_c, self.humidity_centi_pct + (self.fetches % 2 if self.flicker else 0)


class Bench:
    """Board layer and master in one. `lamps` is what the outputs were last told."""

    unique_id = b"\x01\x02\x03\x04\x05\x06\x07\x08"
    boot_count = 70000
    reset_cause = registers.RESET_POWER_ON
    air_ceiling_centi_c = 6000
    bank_ceiling_centi_c = 7000

    def __init__(self, zone_count=6, bank_count=2, has_inspection=True, lit_ceiling_s=3600, tick=0):
        self.zone_count = zone_count
        self.bank_count = bank_count
        self.has_inspection = has_inspection
        self.lit_ceiling_s = lit_ceiling_s
        self.tick = tick
        self.air = BenchAir()
        self.door = False
        self.stop = False
        self.bank_centi_c = [2500] * bank_count
        self.lamps = [None] * zone_count
        self.inspection = None
        self.fan = None
        self.fed = 0
        self.arrived = b""
        self.sent = b""
        self.heartbeat = 0
        self.node = Node(self)

    # --- board layer ---
    def ticks_ms(self):
        return self.tick

    def ticks_diff(self, later, earlier):
        return (later - earlier + PERIOD_MS // 2) % PERIOD_MS - PERIOD_MS // 2

    def read(self):
        data, self.arrived = self.arrived, b""
        return data

    def write(self, data):
        self.sent += data

    def door_open(self):
        return self.door

    def stop_pressed(self):
        return self.stop

    def bank_adc(self, bank):
        centi_c = self.bank_centi_c[bank]
        return 65535 if centi_c is None else ntc.adc_code(centi_c)

    def set_zone(self, zone, permille):
        self.lamps[zone] = permille

    def set_inspection(self, permille):
        self.inspection = permille

    def set_fan(self, permille):
        self.fan = permille

    def feed(self):
        self.fed += 1

    # --- time and the master ---
    def run(self, ms, step_ms=100, beat=True):
        """Lets time pass; with a living host unless told otherwise."""
        end = ms
        passed = 0
        since_beat = 0
        while passed < end:
            self.tick = (self.tick + step_ms) % PERIOD_MS
            passed += step_ms
            since_beat += step_ms
            if beat and since_beat >= 1000:
                since_beat = 0
                self.beat()
            else:
                self.node.step()

    def ask(self, body):
        """Sends one request and gives the reply without its checksum; b"" for none."""
        self.sent = b""
        self.arrived = sealed(body)
        self.node.step()
        assert crc16(self.sent) == 0 or not self.sent
        return self.sent[:-2]

    def write_registers(self, first, *values):
        """Function 16. Gives the exception code, 0 if obeyed."""
        if isinstance(first, str):
            first = registers.row(first)[1]
        words = struct.pack(f">{len(values)}H", *(value & 0xFFFF for value in values))
        reply = self.ask(struct.pack(">BBHHB", UNIT_ID, 16, first, len(values), len(words)) + words)
        return reply[2] if reply[1] & 0x80 else 0

    def beat(self):
        self.heartbeat = (self.heartbeat + 1) & 0xFFFF
        assert self.write_registers("heartbeat", self.heartbeat) == 0

    def value(self, name):
        """A register by its name: a number, or a list where the row has several."""
        space, first, _name, code, count, *_rest = registers.row(name)
        words = count * width(code)
        reply = self.ask(struct.pack(">BBHH", UNIT_ID, 4 if space == "input" else 3, first, words))
        assert reply[:3] == bytes((UNIT_ID, 4 if space == "input" else 3, 2 * words)), reply
        values = list(struct.unpack(f">{count}{code}", reply[3:]))
        return values if count > 1 else values[0]

    def arm(self, air_limit_centi_c=5000, bank_limit_centi_c=6500):
        assert self.write_registers("heartbeat_timeout_ms", 3000, air_limit_centi_c, bank_limit_centi_c, 1) == 0

    def demand(self, *levels, inspect=0):
        self.heartbeat = (self.heartbeat + 1) & 0xFFFF
        padded = list(levels) + [0] * (registers.ZONES_MAX - len(levels))
        return self.write_registers("heartbeat", self.heartbeat, 200, inspect, *padded)

    def light(self, *levels, inspect=0):
        self.run(200, beat=False)
        self.arm()
        assert self.demand(*(levels or (1000,)), inspect=inspect) == 0
        assert self.is_lit()

    def is_lit(self):
        return any(self.lamps) or bool(self.inspection)


@pytest.fixture
def bench():
    return Bench()


@pytest.fixture
def make_bench():
    """Bench, for tests that want one with other numbers."""
    return Bench
