"""A small Modbus host of its own, so that the rig is tested without the product's link."""

import struct

import pytest

from lampboard import registers
from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.rig.design import RigDesign
from lampwarden.rig.wire import Wire
from lampwarden.rig.world import World

DEMO = Chamber(
    zones=tuple(
        Zone(name=f"Zone {index + 1}", bank=index // 2 + 1, irradiance_w_m2=irradiance)
        for index, irradiance in enumerate((100.0, 90.0, 80.0, 80.0, 70.0, 60.0))
    )
)


def crc16(data: bytes) -> bytes:
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return crc.to_bytes(2, "little")


class Refused(Exception):
    """A Modbus exception reply; args[0] is its code."""


class Desk:
    """A simulated chamber on the desk and a host that asks by the table's names."""

    def __init__(self, world: World) -> None:
        self.world, self.truth, self.wire = world, world.truth, Wire(world)
        self.beat = 0

    def ask(self, body: bytes, timeout_s: float = 0.3) -> bytes:
        frame = bytes((registers.UNIT_ID,)) + body
        reply = self.wire.exchange(frame + crc16(frame), timeout_s)
        if not reply:
            raise TimeoutError
        assert crc16(reply[:-2]) == reply[-2:]
        if reply[1] & 0x80:
            raise Refused(reply[2])
        assert reply[1] == body[0]
        return reply[2:-2]

    def read(self, name: str) -> int | list[int]:
        space, address, _, code, count, *_ = registers.row(name)
        words = count * registers.width(code)
        data = self.ask(struct.pack(">BHH", 4 if space == "input" else 3, address, words))
        values = list(struct.unpack(f">{count}{code}", data[1:]))
        return values if count > 1 else values[0]

    def write(self, name: str, *values: int) -> None:
        _, address, _, code, *_ = registers.row(name)
        data = struct.pack(f">{len(values)}{code}", *values)
        self.ask(struct.pack(">BHHB", 16, address, len(data) // 2, len(data)) + data)

    def arm(self, air_c: float = 40.0, bank_c: float = 63.0) -> None:
        self.write("air_limit_centi_c", round(air_c * 100), round(bank_c * 100))
        self.write("arm", 1)

    def demand(self, level: int = 1000, inspection: int = 0) -> None:
        """A new heartbeat number with this level for all fitted zones."""
        self.beat = (self.beat + 1) % 65536
        zones = self.world.board.zone_count
        self.write("heartbeat", self.beat, 0, inspection, *([level] * zones + [0] * (8 - zones)))

    def light(self, seconds: float, level: int = 1000) -> None:
        """Demand this level once a second for so long."""
        end_s = self.world.now_s + seconds
        while self.world.now_s < end_s:
            self.demand(level)
            self.world.advance(min(end_s, self.world.now_s + 1))

    def wait(self, seconds: float) -> None:
        self.world.advance(self.world.now_s + seconds)

    @property
    def state(self) -> str:
        return registers.STATES[self.read("board_state")]

    @property
    def trip(self) -> str:
        return registers.TRIPS[self.read("trip_cause")]


@pytest.fixture
def desk():
    """Makes a desk: desk(seed=1, ticks_start_ms=0, chamber=DEMO, **design)."""

    def make(seed: int = 1, ticks_start_ms: int = 0, chamber: Chamber = DEMO, **design: float) -> Desk:
        return Desk(World(RigDesign(**design), seed, chamber, ticks_start_ms))

    return make


@pytest.fixture
def lit(desk):
    """Makes a desk whose chamber has been lit at full level for a minute."""

    def make(**options) -> Desk:
        made = desk(**options)
        made.wait(6)  # sensors settle, boot grace passes
        made.arm()
        made.light(60)
        assert not made.truth.dark
        return made

    return make
