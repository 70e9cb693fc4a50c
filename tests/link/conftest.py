"""Both real ends joined: the product's link and the board's firmware, over the rig's wire in virtual time."""

import socket
from collections.abc import Callable, Iterator

import pytest

from lampboard import registers as reg
from lampboard.rtu import sealed
from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.link.board import Board, Demand, Live
from lampwarden.link.transport import REPLY_S, WireTransport
from lampwarden.rig.design import RigDesign
from lampwarden.rig.wire import Wire
from lampwarden.rig.world import World

CHAMBER = Chamber(zones=tuple(Zone(name=f"Zone {n}", bank=n // 2 + 1, irradiance_w_m2=80.0) for n in range(6)))
FULL = Demand((1.0,) * 6, fan_min=0.2)


class Joined:
    """A simulated board and the host's Board on it."""

    def __init__(self, seed: int = 1, chamber: Chamber = CHAMBER) -> None:
        self.world = World(RigDesign(), seed, chamber)
        self.wire = Wire(self.world)
        self.transport = WireTransport(self.wire)
        self.board = Board(self.transport)

    def wait(self, seconds: float) -> None:
        self.world.advance(self.world.now_s + seconds)

    def light(self, demand: Demand = FULL) -> Live:
        """Armed and lit, as after a minute of a session."""
        self.wait(6)  # sensors settle, boot grace passes
        self.board.set_limits(40.0, 63.0, 3.0)
        self.board.arm()
        self.board.exchange(demand)
        self.wait(1)
        return self.board.exchange(demand)


@pytest.fixture
def joined() -> Joined:
    return Joined()


class ScriptedWire:
    """Answers each question with the next of its replies; what is left over when it rests is `late`."""

    def __init__(self, *replies: bytes | Exception) -> None:
        self.replies = list(replies)
        self.late: list[bytes] = []
        self.asked: list[bytes] = []
        self.rested_s: list[float] = []

    def exchange(self, frame: bytes, timeout_s: float) -> bytes:
        if not frame:
            if timeout_s != REPLY_S:
                self.rested_s.append(timeout_s)
            return self.late.pop(0) if self.late else b""
        self.asked.append(frame)
        reply = self.replies.pop(0)
        if isinstance(reply, Exception):
            raise reply
        return reply


def frame(*body: int) -> bytes:
    """The bytes with the board's unit id before and the checksum behind."""
    return sealed(bytes((reg.UNIT_ID, *body)))


@pytest.fixture
def scripted() -> Iterator[Callable[..., tuple[ScriptedWire, WireTransport]]]:
    """Makes a wire with these replies and a transport on it; each reply must have been used at the end."""
    made: list[ScriptedWire] = []

    def make(*replies: bytes | Exception) -> tuple[ScriptedWire, WireTransport]:
        made.append(ScriptedWire(*replies))
        return made[-1], WireTransport(made[-1])

    yield make
    assert [wire.replies for wire in made] == [[]] * len(made)


@pytest.fixture
def free_port() -> int:
    """A TCP port at which nobody listens."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])
