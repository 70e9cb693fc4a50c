"""The board's loop: serial bytes, sensors, guard, outputs. It decides nothing: guard.py does.

A board layer (boards/) is an object with
  zone_count, bank_count, has_inspection, unique_id (8 bytes), boot_count, reset_cause,
  air_ceiling_centi_c, bank_ceiling_centi_c, lit_ceiling_s
  air                     sensor with start(), fetch() and conversion_ms, see sensors/sht.py
  ticks_ms(), ticks_diff(later, earlier)   a wrapping ms counter
  read() -> bytes         what arrived, b"" for nothing; may wait a few ms for it, which paces the loop
  write(data)             may take up to 500 ms; the lamps never depend on it
  door_open(), stop_pressed()              True also when a wire is broken
  bank_adc(bank) -> 0..65535
  set_zone(zone, permille), set_inspection(permille), set_fan(permille)
  feed()                  the hardware watchdog
  leave()                 service mode: give the prompt back
"""

import struct

from lampboard.guard import AIR_LOST_MS, Guard
from lampboard.registers import MAP_VERSION, NO_VALUE, ROWS, UNIT_ID, width
from lampboard.rtu import ILLEGAL_ADDRESS, ILLEGAL_VALUE, READ_HOLDING, Server
from lampboard.sensors import ntc

FIRMWARE_VERSION = 1  # major x 100 + minor
SENSE_MS = 500  # period of the sensor readings
LATE_MS = 1 << 29  # length of a pass whose clock ran backwards: every time limit has lapsed then


def _blocks(space):
    """(first address, end, struct format) of each unbroken stretch of the table; a read or write stays inside one."""
    blocks = []
    for kind, address, _name, code, count, _low, _high, _unit, _meaning in ROWS:
        if kind == space:
            first, end, form = blocks.pop() if blocks and blocks[-1][1] == address else (address, address, ">")
            if end != address:
                raise ValueError(f"registers.py: {space} {address} is out of order")
            blocks.append((first, end + count * width(code), f"{form}{count}{code}"))
    return blocks


_IDENTITY, _LIVE = _blocks("input")
(_HOLDING,) = _blocks("holding")
# One entry per holding register: its row's name, its place in the row's list (None: no list), signed, low, high.
_WRITABLE = tuple(
    (name, place if count > 1 else None, code == "h", low, high)
    for kind, _address, name, code, count, low, high, _unit, _meaning in ROWS
    if kind == "holding"
    for place in range(count)
)


class Node:
    """One board. Also the register memory that rtu.Server reads and writes."""

    def __init__(self, board):
        self.board = board
        self.guard = Guard(
            board.zone_count,
            board.bank_count,
            board.has_inspection,
            board.air_ceiling_centi_c,
            board.bank_ceiling_centi_c,
            board.lit_ceiling_s,
        )
        self.server = Server(UNIT_ID, self)
        self.now_ms = 0  # since boot; does not wrap
        self.tick = board.ticks_ms()
        self.gap_ms_max = 0
        self.sense_ms = 0  # when the sensors need attention next
        self.next_sense_ms = 0
        self.measuring = False
        self.fan_driven = -1
        dark(board)

    def step(self):
        """One pass. The reply goes out last, so that a master that does not read cannot delay darkness."""
        board = self.board
        guard = self.guard
        data = board.read()
        tick = board.ticks_ms()
        passed_ms = board.ticks_diff(tick, self.tick)
        self.tick = tick
        if passed_ms < 0:
            passed_ms = LATE_MS
        now = self.now_ms = self.now_ms + passed_ms
        if passed_ms > self.gap_ms_max:
            self.gap_ms_max = passed_ms
        guard.see(board.door_open(), board.stop_pressed())
        reply = b""
        if data or self.server.pending:
            self._judge(now)  # so that a reply never shows a stop without its trip, or light beside an open door
            reply = self.server.receive(data, now)
        if now >= self.sense_ms:
            self._sense(now)
        self._judge(now)
        if guard.fan_permille != self.fan_driven:
            self.fan_driven = guard.fan_permille
            board.set_fan(self.fan_driven)
        if reply:
            board.write(reply)
        board.feed()

    def _judge(self, now):
        guard = self.guard
        if guard.judge(now):
            for zone in range(guard.zone_count):
                self.board.set_zone(zone, guard.applied_permille[zone])
            if guard.has_inspection:
                self.board.set_inspection(guard.inspect_applied_permille)

    def _sense(self, now):
        """Starts the air sensor and reads the banks; the next time, when it has measured, fetches the air."""
        if self.measuring:
            self.guard.see_air(now, *self.board.air.fetch())
            self.sense_ms = self.next_sense_ms
        else:
            self.board.air.start()
            self.sense_ms = now + self.board.air.conversion_ms
            self.next_sense_ms = now + SENSE_MS
            self.guard.see_banks(now, [ntc.read(self.board.bank_adc(bank)) for bank in range(self.guard.bank_count)])
        self.measuring = not self.measuring

    # --- the registers ---
    def read(self, function, address, count):
        """The bytes of these registers, or ILLEGAL_ADDRESS."""
        if function == READ_HOLDING:
            first, end, form = _HOLDING
            fill = self._demand
        elif address < _IDENTITY[1]:
            first, end, form = _IDENTITY
            fill = self._identity
        else:
            first, end, form = _LIVE
            fill = self._live
        if not (first <= address and address + count <= end):
            return ILLEGAL_ADDRESS
        return fill(form)[2 * (address - first) : 2 * (address - first + count)]

    def write(self, address, values):
        """Writes holding registers, all or none. Returns OK or an exception code."""
        first, end, _form = _HOLDING
        if not (first <= address and address + len(values) <= end):
            return ILLEGAL_ADDRESS
        want = {}
        for value in values:
            name, place, signed, low, high = _WRITABLE[address - first]
            address += 1
            if signed and value > 32767:
                value -= 65536
            if not low <= value <= high:
                return ILLEGAL_VALUE
            if place is None:
                want[name] = value
            else:
                if name not in want:
                    want[name] = list(self.guard.level_permille)
                want[name][place] = value
        return self.guard.write(self.now_ms, want)

    def _identity(self, form):
        board = self.board
        guard = self.guard
        return struct.pack(
            form,
            guard.heartbeat or 0,
            MAP_VERSION,
            FIRMWARE_VERSION,
            board.zone_count,
            board.bank_count,
            *struct.unpack(">4H", board.unique_id),
            board.boot_count,
            board.reset_cause,
            board.air_ceiling_centi_c,
            board.bank_ceiling_centi_c,
            board.lit_ceiling_s,
            board.has_inspection,
        )

    def _live(self, form):
        guard = self.guard
        server = self.server
        now = self.now_ms
        guard.book(now)
        air_age_ms = now - guard.air_ok_ms
        air_known = air_age_ms <= AIR_LOST_MS
        return struct.pack(
            form,
            guard.heartbeat or 0,
            guard.state(),
            guard.trip_cause,
            guard.trip_channel,
            now & 0xFFFFFFFF,
            self.board.boot_count,
            guard.door_open,
            guard.door_openings & 0xFFFF,
            guard.stop_pressed,
            guard.shown_air_status(now),
            guard.air_temp_centi_c if air_known else NO_VALUE,
            guard.humidity_centi_pct if air_known else NO_VALUE,
            min(air_age_ms, 0xFFFF),
            guard.heartbeat_left_ms(now),
            guard.fan_permille,
            guard.inspect_applied_permille,
            server.frames_ok & 0xFFFF,
            server.frames_bad & 0xFFFF,
            server.exceptions & 0xFFFF,
            min(self.gap_ms_max, 0xFFFF),
            *guard.applied_permille,
            *guard.lit_ms,
            *guard.bank_status,
            *guard.bank_temp_centi_c,
        )

    def _demand(self, form):
        guard = self.guard
        return struct.pack(
            form,
            guard.heartbeat or 0,
            guard.fan_min_permille,
            guard.inspect_level_permille,
            *guard.level_permille,
            guard.heartbeat_timeout_ms,
            NO_VALUE if guard.air_limit_centi_c is None else guard.air_limit_centi_c,
            NO_VALUE if guard.bank_limit_centi_c is None else guard.bank_limit_centi_c,
            guard.armed,
            0,
            0,
        )


def dark(board):
    """Every lamp off, whatever the guard thinks."""
    for zone in range(board.zone_count):
        board.set_zone(zone, 0)
    if board.has_inspection:
        board.set_inspection(0)


def run(board):
    """Runs until the host asks for service mode. Whatever ends it, the lamps are off."""
    try:
        node = Node(board)
        while not node.guard.service:
            try:
                node.step()
            except KeyboardInterrupt:
                pass  # a stray byte 0x03 must not stop the guard
    finally:
        dark(board)
    board.leave()
