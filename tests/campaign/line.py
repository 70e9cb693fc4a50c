"""The line between host and board: what goes wrong on it, and what really arrived at the board.

Bytes keep their order, as on any serial line or stream: what is delayed delays what comes behind it.
"""

import random
import struct
from collections.abc import Callable

from lampwarden.rig.wire import LATENCY_MS, Wire
from lampwarden.rig.world import World

from .faults import DELAY_S_MAX

READ_HOLDING, READ_INPUT, WRITE_ONE, WRITE_MANY = 3, 4, 6, 16
HEARTBEAT, LEVELS, TIMEOUT, AIR_LIMIT, BANK_LIMIT, ARM, CLEAR, SERVICE = 0, 3, 11, 12, 13, 14, 15, 16
"""Holding registers, as device/lampboard/registers.py numbers them (a test compares)."""


def sealed(body: bytes) -> bytes:
    """The frame with its checksum: CRC-16/MODBUS, bit by bit, so that the firmware's tables are not trusted here."""
    crc = 0xFFFF
    for byte in body:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return body + crc.to_bytes(2, "little")


def write(address: int, *values: int) -> bytes:
    """A frame that writes holding registers of unit 1."""
    words = struct.pack(f">{len(values)}H", *(value & 0xFFFF for value in values))
    return sealed(struct.pack(">BBHHB", 1, WRITE_MANY, address, len(values), len(words)) + words)


def written(frame: bytes) -> dict[int, int]:
    """Registers that a whole frame for unit 1 writes, by address; empty for any other bytes."""
    if len(frame) < 8 or frame[0] != 1 or sealed(frame[:-2]) != frame:
        return {}
    if frame[1] == WRITE_ONE and len(frame) == 8:
        address, value = struct.unpack(">HH", frame[2:6])
        return {address: value}
    if frame[1] == WRITE_MANY:
        address, count, size = struct.unpack(">HHB", frame[2:7])
        if size == 2 * count and len(frame) == 9 + size:
            return dict(enumerate(struct.unpack(f">{count}H", frame[7:-2]), address))
    return {}


class Line:
    """Sits in the wire's hooks. `trouble` maps a strike's number to its kind and value 0..1."""

    def __init__(self, world: World, wire: Wire, seed: int, arrives: Callable[[float, dict[int, int]], None]) -> None:
        self.trouble: dict[int, tuple[str, float]] = {}
        self.overheard: list[bytes] | None = None
        """While a list: the board's replies are for somebody else too."""
        self._world, self._arrives = world, arrives
        self._rng = random.Random(f"{seed} line")
        self._free_ms = {"board": 0, "host": 0}
        self._replies: list[bytes] = []
        wire.to_board, wire.to_host = self._to_board, self._to_host

    def _to_board(self, data: bytes) -> list[tuple[int, bytes]]:
        pieces = self._carry(data, "board") if data else []
        for delay_ms, piece in pieces:
            registers = written(piece)
            if registers:
                self._arrives((self._world.board.now_ms + LATENCY_MS + delay_ms) / 1000, registers)
        return pieces

    def _to_host(self, data: bytes) -> list[tuple[int, bytes]]:
        if self.overheard is not None:
            self.overheard.append(data)
        pieces = self._carry(data, "host")
        self._replies = [*self._replies[-20:], data]
        return pieces

    def _carry(self, data: bytes, to: str) -> list[tuple[int, bytes]]:
        rng, pieces, delay_ms = self._rng, [data], 0
        for name, value in self.trouble.values():
            if rng.random() > 0.15 + 0.85 * value:
                continue
            if name == "wire_drops":
                pieces = []
            elif name == "wire_garbles":
                pieces = [self._garbled(piece) for piece in pieces]
            elif name == "wire_duplicates":
                pieces += pieces
            elif name == "wire_delays":
                delay_ms = max(delay_ms, int(rng.uniform(5, DELAY_S_MAX * 1000)))
            elif name == "wire_truncates":
                pieces = [piece[: rng.randrange(len(piece))] for piece in pieces if piece]
            elif name == "stale_replies" and to == "host" and self._replies:
                pieces = [rng.choice(self._replies), *(pieces if rng.random() < 0.5 else [])]
            elif name == "wire_noise":
                noise = rng.randbytes(rng.randint(1, 12))
                pieces = rng.choice(([noise, *pieces], [*pieces, noise], [noise]))
        now_ms = self._world.board.now_ms
        due_ms = max(now_ms + delay_ms, self._free_ms[to])
        self._free_ms[to] = due_ms
        return [(due_ms - now_ms, piece) for piece in pieces if piece]

    def _garbled(self, data: bytes) -> bytes:
        wrong = bytearray(data)
        for _ in range(self._rng.randint(1, 3)):
            wrong[self._rng.randrange(len(wrong))] ^= 1 << self._rng.randrange(8)
        return bytes(wrong)
