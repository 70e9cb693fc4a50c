"""Prints what the firmware's pure parts make of a set of inputs, one line each.

Runs unchanged on CPython and on MicroPython, with the folder that holds `lampboard` on the path; test_micropython.py
compares the two outputs line by line.
"""

import struct

from lampboard import registers
from lampboard.guard import Rise
from lampboard.node import Node
from lampboard.rtu import crc16, request_size, sealed
from lampboard.sensors import ntc
from lampboard.sensors.sht import crc8, temp_centi_c
from lampboard.sensors.sht3x import Sht3x
from lampboard.sensors.sht4x import Sht4x

WRAP = 1 << 30


class Air:
    conversion_ms = 16
    status = 0
    temp = 2500
    count = 0

    def start(self):
        pass

    def fetch(self):
        self.count += 1
        return (self.status, self.temp, 4500 + self.count % 2) if self.status == 0 else (self.status, -32768, -32768)


class Board:
    zone_count = 3
    bank_count = 2
    has_inspection = True
    unique_id = b"\x01\x02\x03\x04\xff\xfe\xfd\xfc"
    boot_count = 4000000000
    reset_cause = 1
    air_ceiling_centi_c = 6000
    bank_ceiling_centi_c = 7000
    lit_ceiling_s = 100000

    def __init__(self):
        self.air = Air()
        self.tick = WRAP - 3000
        self.door = False
        self.stop = False
        self.bank = 2500
        self.arrived = b""
        self.done = []

    def ticks_ms(self):
        return self.tick

    def ticks_diff(self, later, earlier):
        return (later - earlier + WRAP // 2) % WRAP - WRAP // 2

    def read(self):
        data = self.arrived
        self.arrived = b""
        return data

    def write(self, data):
        self.done.append("".join(f"{byte:02x}" for byte in data))

    def door_open(self):
        return self.door

    def stop_pressed(self):
        return self.stop

    def bank_adc(self, bank):
        return ntc.adc_code(self.bank)

    def set_zone(self, zone, permille):
        self.done.append((zone, permille))

    def set_inspection(self, permille):
        self.done.append(("inspection", permille))

    def set_fan(self, permille):
        self.done.append(("fan", permille))

    def feed(self):
        pass


def order(first, *values):
    words = struct.pack(f">{len(values)}H", *values)
    return sealed(struct.pack(">BBHHB", 1, 16, first, len(values), len(words)) + words)


def ask(function, first, count):
    return sealed(struct.pack(">BBHH", 1, function, first, count))


def checksums():
    for data in (b"123456789", b"\x02\x07", bytes(range(127)), b"", b"\x00"):
        yield "crc", crc16(data), crc8(data)
    for data in (b"\x01", b"\x01\x03", b"\x01\x10\x00\x00\x00\x02\x04", b"\x01\x2b"):
        yield "size", request_size(data, 0)


def sensors():
    for raw in (0, 1, 0x6666, 0x8000, 0xBEEF, 0xFFFF):
        yield "sht", temp_centi_c(raw), Sht3x.humidity_centi_pct(raw), Sht4x.humidity_centi_pct(raw)
    for adc in range(0, 65536, 997):
        yield "ntc", adc, ntc.read(adc)
    for _centi_c, ohm in ntc.CURVE:
        yield "steinhart", ntc.steinhart_hart_centi_c(ohm)
    for centi_c in range(-2000, 12000, 770):
        yield "code", ntc.adc_code(centi_c)


def rise():
    it = Rise()
    for now in range(0, 100000, 2500):
        yield "rise", it.add(now, 2000 + now * 7 // 1000 - (300 if now == 50000 else 0)), it.lows


def session():
    """A session on the node: garbage, reads, arming across the tick wrap, light, door, heat, clearing."""
    board = Board()
    node = Node(board)
    events = (  # ms to wait, bytes that arrive; or None, the door open or not, the air's temperature
        (0, b""),
        (100, ask(4, 0, 17)),
        (100, b"\xff\x01\x03\x00"),
        (100, b""),
        (100, b"\x01\x2b\x00\x01"),
        (20, b""),
        (100, order(14, 1)),
        (100, order(12, 6001, 100)),
        (100, order(11, 2000, 5000, 6500, 1)),
        (100, order(0, 7, 100, 50, 1000, 333, 0, 0, 0, 0, 0, 0)),
        (900, ask(4, 32, 62)),
        (900, order(0, 8)),
        (900, ask(4, 32, 62)),
        (None, True),
        (20, ask(4, 32, 62)),
        (None, False),
        (20, order(0, 9, 100, 0, 10, 20, 30, 0, 0, 0, 0, 0)),
        (None, 5001),
        (500, b""),
        (500, ask(4, 32, 62)),
        (20, order(15, 2)),
        (None, 2500),
        (500, b""),
        (500, order(15, 2)),
        (20, ask(3, 0, 17)),
        (20, sealed(b"\x01\x06\x00\x05\x03\xe8")),
        (20, order(16, registers.SERVICE_KEY)),
    )
    for wait_ms, event in events:
        if wait_ms is None:
            setattr(*(board, "door") if isinstance(event, bool) else (board.air, "temp"), event)
            continue
        board.tick = (board.tick + wait_ms) % WRAP
        board.arrived = event
        board.done = []
        node.step()
        yield "session", board.tick, node.guard.state(), node.guard.service, board.done


def main():
    for part in (checksums, sensors, rise, session):
        for line in part():
            print(line)  # noqa: T201 - the output is what is compared


main()
