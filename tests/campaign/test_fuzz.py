"""Bytes of every kind into the real firmware, and the board as a Modbus server against a small model of its own.

LAMPWARDEN_LONG=1 sends a million frames instead of ten thousand.
"""

import os
import random
import struct

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from lampboard import registers as reg
from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.rig.design import RigDesign
from lampwarden.rig.world import World

from .line import AIR_LIMIT, ARM, BANK_LIMIT, CLEAR, HEARTBEAT, LEVELS, SERVICE, TIMEOUT, sealed, write

LONG = os.environ.get("LAMPWARDEN_LONG") == "1"
FRAMES = 1_000_000 if LONG else 10_000
PARTS = 10
"""The frames are shared out over as many boards."""
TIMEOUT_MS_MAX = 10_000
HOLDING = 17
"""Number of holding registers."""


def chamber(zones: int, inspection: bool) -> Chamber:
    return Chamber(
        zones=tuple(Zone(name=f"Z{n}", bank=1 + n % 2, irradiance_w_m2=50.0) for n in range(zones)),
        inspection=inspection,
    )


# --- any bytes at all -------------------------------------------------------------------------------------------------
def _table() -> list[int]:
    table = []
    for byte in range(256):
        for _ in range(8):
            byte = byte >> 1 ^ 0xA001 if byte & 1 else byte >> 1
        table.append(byte)
    return table


_CRC = _table()


def whole(frame: bytes) -> bool:
    """True if the frame ends with its own checksum."""
    crc = 0xFFFF
    for byte in frame:
        crc = crc >> 8 ^ _CRC[(crc ^ byte) & 0xFF]
    return crc == 0


class Overheard:
    """Every whole write for unit 1 in a stream of bytes, wherever it begins: more than the board can possibly obey."""

    def __init__(self) -> None:
        self._tail = b""

    def listen(self, data: bytes) -> list[dict[int, int]]:
        stream, old, found = self._tail + data, len(self._tail), []
        at = stream.find(1)
        while 0 <= at < len(stream) - 1:
            function = stream[at + 1]
            size = 8 if function == 6 else 9 + stream[at + 6] if function == 16 and at + 6 < len(stream) else 0
            if size and old < at + size <= len(stream) and whole(stream[at : at + size]):
                address, count = struct.unpack_from(">HH", stream, at + 2)
                if function == 6:
                    found.append({address: count})
                elif size == 9 + 2 * count:
                    found.append(dict(enumerate(struct.unpack_from(f">{count}H", stream, at + 7), address)))
            at = stream.find(1, at + 1)
        self._tail = stream[-300:]
        return found


def some_bytes(rng: random.Random, last: bytes, zones: int, inspection: bool) -> bytes:
    """A frame of a kind that helps or harms: whole, mutated, or noise."""
    kind = rng.random()
    if kind < 0.12:
        air_limit = rng.choice((4000, 4200, 4500, 4500, 4501, 65535 if rng.random() < 0.2 else 4000))
        frame = write(TIMEOUT, rng.choice((1000, 3000, 10_000)), air_limit, rng.choice((6000, 6500, 6501)), 1)
    elif kind < 0.30:
        levels = [rng.choice((0, 0, 300, 1000, 1000, 1001)) for _ in range(zones)] + [0] * (8 - zones)
        inspect = rng.choice((0, 500)) if inspection or rng.random() < 0.1 else 0
        frame = write(HEARTBEAT, rng.randrange(65536), rng.choice((0, 1000)), inspect, *levels)
    elif kind < 0.36:
        frame = write(rng.choice((ARM, CLEAR, CLEAR, LEVELS)), rng.choice((0, 1, 1, 1, 2, 5, 11, 3000, 65535)))
    elif kind < 0.50:
        frame = sealed(struct.pack(">BBHH", 1, rng.choice((3, 4)), rng.choice((0, 32, rng.randrange(120))),
                                   rng.choice((1, 17, 62, 125, 126, 0, 65535))))  # fmt: skip
    elif kind < 0.56:
        frame = sealed(bytes((rng.choice((0, 1, 1, 2, 255)), rng.randrange(256))) + rng.randbytes(rng.randrange(12)))
    elif kind < 0.62:
        count = rng.choice((1, 11, 17, 123, 200, 255))
        body = struct.pack(">BBHHB", 1, 16, rng.randrange(20), count, min(255, rng.choice((2 * count, count))))
        frame = sealed(body + rng.randbytes(rng.choice((2 * count, count)) % 250))
    elif kind < 0.70:
        frame = rng.randbytes(rng.choice((1, 3, 8, 60, 256, 300)))
    else:
        frame = last
    harm = rng.random()
    if harm < 0.5 or not frame:
        return frame
    if harm < 0.65:
        wrong = bytearray(frame)
        wrong[rng.randrange(len(wrong))] ^= 1 << rng.randrange(8)
        return bytes(wrong)
    if harm < 0.75:
        return frame[: rng.randrange(len(frame))]
    if harm < 0.85:
        return rng.randbytes(rng.randint(1, 9)) + frame
    if harm < 0.92:
        return frame + frame
    at = rng.randrange(len(frame))
    return frame[:at] + rng.randbytes(rng.randint(1, 3)) + frame[at:]


@pytest.mark.timeout(3600 if LONG else 120)
@pytest.mark.parametrize("seed", range(PARTS))
def test_no_bytes_harm_the_firmware_or_light_a_lamp(seed: int) -> None:
    rng = random.Random(seed)
    zones, inspection = rng.choice((1, 4, 8)), rng.random() < 0.5
    world = World(RigDesign(), seed, chamber(zones, inspection), ticks_start_ms=2**30 - rng.randrange(2_000_000))
    world.advance(6.0)
    overheard, last = Overheard(), b""
    armed_ms = limits = -1
    levels: list[dict[int, int]] = [{} for _ in range(zones + 1)]  # level: last time it was asked for, ms
    lit = 0
    for _ in range(FRAMES // PARTS):
        now_ms = world.board.now_ms
        last = some_bytes(rng, last, zones, inspection)
        for registers in overheard.listen(last):
            if registers.keys() & {AIR_LIMIT, BANK_LIMIT}:
                limits = now_ms
            if registers.get(ARM) == 1:
                armed_ms = now_ms
            if HEARTBEAT in registers or armed_ms >= 0:
                for zone in range(zones):
                    if LEVELS + zone in registers:
                        levels[zone][registers[LEVELS + zone]] = now_ms
                if 2 in registers:
                    levels[zones][registers[2]] = now_ms
        if rng.random() < 0.01:
            world.press_stop(rng.random() < 0.1)
            world.door(rng.random() < 0.3)
        world.deliver(last)
        world.advance_ms(now_ms + rng.choice((0, 1, 20, 60, 100, 1000)))
        if rng.random() < 0.0005:
            world.reboot()
            armed_ms = limits = -1
            world.advance(world.now_s + 8.0)
        if world.node is None:  # a whole service frame while disarmed: back only by a power cycle
            assert world.truth.dark
            world.reboot()
            armed_ms = limits = -1
            world.advance(world.now_s + 8.0)
        for zone, permille in enumerate([*world.truth.zone_permille, world.truth.inspection_permille]):
            if permille:
                lit += 1
                assert armed_ms >= 0, f"lit at {permille} permille, yet nothing armed the board"
                assert limits >= 0, "armed without limits"
                assert permille in levels[zone], f"lit at {permille} permille, which nobody asked for"
                assert permille <= 1000
        if (world.truth.stop_pressed or world.truth.door_open) and world.board.now_ms >= now_ms + 100:
            assert world.truth.dark
            assert world.truth.inspection_permille == 0
    assert world.firmware_errors == []
    assert lit > 20, "hardly any lamp was lit: the frames are too wild to mean anything"


# --- a Modbus server against a model ----------------------------------------------------------------------------------
ADDRESS, VALUE, NOT_NOW = 2, 3, 4
LOW_LIMIT, HIGH_LIMIT = 500, 4400
"""Hundredths of a degree C: far below and far above all that this chamber reads."""
RANGES = [(0, 65535), (0, 1000), (0, 1000), *[(0, 1000)] * 8, (1000, 10_000), (0, 12_500), (0, 12_500), (0, 1), (0, 11),
          (0, 65535)]  # fmt: skip
"""Low and high of each holding register, from the table's meaning; a test compares them with the table."""


class Model:
    """What the board is told and must answer, by the words of the design."""

    def __init__(self, zones: int, inspection: bool, air_ceiling: int, bank_ceiling: int) -> None:
        self.zones, self.inspection = zones, inspection
        self.ceilings = (air_ceiling, bank_ceiling)
        self.held = [0] * 11 + [3000, None, None, 0, 0, 0]
        self.beat: int | None = None
        self.left_ms = 0
        self.trip = 0
        self.door = self.stop = False

    @property
    def asked(self) -> list[int]:
        return [self.held[2], *self.held[LEVELS : LEVELS + 8]]

    @property
    def lit(self) -> bool:
        return any(self.asked)

    def hot(self) -> int:
        """The heat trip that stands to reason with these limits, or 0."""
        if self.held[AIR_LIMIT] is not None and self.held[AIR_LIMIT] < 2000:
            return reg.TRIP_AIR_OVER
        return reg.TRIP_BANK_OVER if self.held[BANK_LIMIT] is not None and self.held[BANK_LIMIT] < 2000 else 0

    def write(self, first: int, values: list[int]) -> int:
        if first + len(values) > HOLDING:
            return ADDRESS
        want = dict(enumerate(values, first))
        if any(not RANGES[at][0] <= value <= RANGES[at][1] for at, value in want.items()):
            return VALUE
        for at, ceiling in zip((AIR_LIMIT, BANK_LIMIT), self.ceilings, strict=True):
            if want.get(at, 0) > ceiling:
                return VALUE
        if any(want.get(LEVELS + zone) for zone in range(self.zones, 8)):
            return VALUE
        if want.get(2) and not self.inspection:
            return VALUE
        if want.get(CLEAR, self.trip) != self.trip or want.get(SERVICE, reg.SERVICE_KEY) != reg.SERVICE_KEY:
            return VALUE
        if want.get(ARM):
            limits = [want.get(at, self.held[at]) for at in (AIR_LIMIT, BANK_LIMIT)]
            if None in limits or self.trip or self.lit:
                return NOT_NOW
        if want.get(CLEAR) and (self.stop or self.hot()):
            return NOT_NOW
        if SERVICE in want and (self.held[ARM] or self.lit):
            return NOT_NOW
        for at, value in want.items():
            if at not in (HEARTBEAT, CLEAR, SERVICE):
                self.held[at] = value
        if HEARTBEAT in want:
            if want[HEARTBEAT] != self.beat:
                self.left_ms = self.held[TIMEOUT]
            self.beat = self.held[HEARTBEAT] = want[HEARTBEAT]
        if CLEAR in want:
            self.trip = 0
        if ARM in want:
            self.drop()
        return 0

    def judge(self) -> None:
        """A pass of the firmware."""
        if not self.trip:
            self.trip = reg.TRIP_STOP if self.stop else self.hot()
            if self.trip:
                self.held[ARM] = 0
                self.drop()
        if not self.held[ARM] or self.door or self.left_ms <= 0:
            self.drop()

    def drop(self) -> None:
        self.held[2:LEVELS + 8] = [0] * 9  # fmt: skip

    def pass_time(self, ms: int) -> None:
        self.left_ms -= ms
        self.judge()


class BoardAsServer(RuleBasedStateMachine):
    """Random requests, door, button and time; after each the board must be as the model is."""

    def __init__(self) -> None:
        super().__init__()
        self.replies: list[bytes] = []
        self.world = World(RigDesign(), 1, chamber(5, True))
        self.world.listen(self.replies.append)
        self.world.advance(6.0)
        board = self.world.board
        self.model = Model(5, True, board.air_ceiling_centi_c, board.bank_ceiling_centi_c)
        self.beat = 100
        self.gone = False

    def ask(self, frame: bytes) -> bytes:
        self.replies.clear()
        self.world.deliver(frame)
        (reply,) = self.replies
        assert whole(reply)
        return reply

    def tell(self, first: int, values: list[int]) -> None:
        reply = self.ask(write(first, *values))
        expected = self.model.write(first, values)
        self.model.judge()
        if expected:
            assert reply == sealed(bytes((1, 0x90, expected))), (first, values, expected)
        else:
            assert reply == sealed(struct.pack(">BBHH", 1, 16, first, len(values))), (first, values)
            self.gone = first <= SERVICE < first + len(values)

    @precondition(lambda self: not self.gone)
    @rule(data=st.data(), first=st.integers(0, 18))
    def write_anything(self, data: st.DataObject, first: int) -> None:
        count = data.draw(st.integers(1, max(1, 18 - first)))
        values = []
        for at in range(first, first + count):
            low, high = RANGES[min(at, HOLDING - 1)]
            edge = [low, high, low - 1 & 0xFFFF, high + 1 & 0xFFFF, LOW_LIMIT, HIGH_LIMIT, reg.SERVICE_KEY]
            values.append(data.draw(st.sampled_from(edge) | st.integers(low, high)))
        for at in (AIR_LIMIT, BANK_LIMIT):  # not near what is read: the model knows no thermometer
            if first <= at < first + count and 1500 <= values[at - first] < HIGH_LIMIT:
                values[at - first] = HIGH_LIMIT
        self.tell(first, values)

    @precondition(lambda self: not self.gone)
    @rule(limit=st.sampled_from((HIGH_LIMIT, HIGH_LIMIT, LOW_LIMIT)), timeout=st.sampled_from((1000, 3000, 10_000)))
    def arm(self, limit: int, timeout: int) -> None:
        self.tell(TIMEOUT, [timeout, limit, HIGH_LIMIT + 500, 1])

    @precondition(lambda self: not self.gone)
    @rule(levels=st.lists(st.sampled_from((0, 1, 500, 1000)), min_size=5, max_size=5), inspect=st.sampled_from((0, 9)))
    def demand(self, levels: list[int], inspect: int) -> None:
        self.beat = (self.beat + 1) % 65536
        self.tell(HEARTBEAT, [self.beat, 200, inspect, *levels, 0, 0, 0])

    @precondition(lambda self: not self.gone)
    @rule()
    def clear(self) -> None:
        self.tell(CLEAR, [self.model.trip])

    @precondition(lambda self: not self.gone)
    @rule(first=st.integers(0, 18), count=st.integers(1, 19))
    def read_holding(self, first: int, count: int) -> None:
        reply = self.ask(sealed(struct.pack(">BBHH", 1, 3, first, count)))
        self.model.judge()
        if first + count > HOLDING:
            assert reply == sealed(bytes((1, 0x83, ADDRESS)))
            return
        held = [reg.NO_VALUE & 0xFFFF if value is None else value for value in self.model.held]
        assert struct.unpack(f">{count}H", reply[3:-2]) == tuple(held[first : first + count])

    @rule(is_open=st.booleans())
    def door(self, is_open: bool) -> None:
        self.world.door(is_open)
        self.model.door = is_open
        self.pass_time(100)

    @rule(down=st.booleans())
    def button(self, down: bool) -> None:
        self.world.press_stop(down)
        self.model.stop = down
        self.pass_time(100)

    @rule(ms=st.sampled_from((100, 900, 2000, 4000)))
    def wait(self, ms: int) -> None:
        # Not to the very edge of the timeout, where the pass of the firmware decides.
        if abs(self.model.left_ms - ms) > 250:
            self.pass_time(ms)

    def pass_time(self, ms: int) -> None:
        if abs(self.model.left_ms - ms) <= 200:
            self.world.advance_ms(self.world.board.now_ms + 600)
            ms += 600
        self.world.advance_ms(self.world.board.now_ms + ms)
        self.model.pass_time(ms)

    @invariant()
    def lamps_are_as_asked(self) -> None:
        truth = self.world.truth
        assert self.world.firmware_errors == []
        if self.gone:
            assert truth.dark
            assert truth.inspection_permille == 0
            return
        assert [truth.inspection_permille, *truth.zone_permille] == self.model.asked[:6]
        assert self.world.node is not None
        assert self.world.node.guard.trip_cause == self.model.trip


BoardAsServer.TestCase.settings = settings(
    max_examples=2000 if LONG else 60, stateful_step_count=40, deadline=None, derandomize=not LONG
)
TestBoardAsServer = BoardAsServer.TestCase


def test_the_model_knows_the_table() -> None:
    rows = [row for row in reg.ROWS if row[0] == "holding"]
    assert [(row[5], row[6]) for row in rows for _ in range(row[4])] == RANGES
    names = {row[2]: row[1] for row in rows}
    assert (names["heartbeat"], names["zone_level_permille"], names["arm"]) == (HEARTBEAT, LEVELS, ARM)
    assert (names["air_limit_centi_c"], names["bank_limit_centi_c"]) == (AIR_LIMIT, BANK_LIMIT)
    assert (names["heartbeat_timeout_ms"], names["clear_trip"], names["service_key"]) == (TIMEOUT, CLEAR, SERVICE)
