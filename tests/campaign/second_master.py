"""Another program that talks to the board: reads, lights lamps, and writes what may not be written.

What it may not write is decided here from the design's words, not from the guard's rules; the board must refuse it.
Left out, since the design allows it to any master: clearing a trip whose cause is gone, looser limits up to the
ceilings, and service mode while disarmed.
"""

import random
import struct
from typing import TYPE_CHECKING

from lampboard import registers as reg

from . import line

if TYPE_CHECKING:
    from .stage import Stage

ILLEGAL_VALUE, NOT_NOW = 3, 4


class SecondMaster:
    def __init__(self, stage: "Stage", seed: int) -> None:
        self.wrong: list[str] = []
        """Writes that should have been refused, and were not."""
        self.lit_s: list[float] = []
        """When it asked for light."""
        self._stage = stage
        self._rng = random.Random(f"{seed} second master")

    def speak(self) -> None:
        """One request of a random kind, now. On the same line, so that the host hears the answer too."""
        node = self._stage.world.node
        if node is None:
            return
        guard, rng = node.guard, self._rng
        kinds = ["read", "light", "limits above the ceiling", "zones it has not", "wrong service key", "wrong clear"]
        if guard.armed:
            kinds += ["disarm", "service while armed"]
        if any(guard.applied_permille):
            kinds += ["arm while lit"] * 2
        if guard.trip_cause:
            kinds += ["arm while tripped", *["clear at once"] * 5]
        elif guard.air_limit_centi_c is None:
            kinds += ["arm without limits"] * 2
        if not guard.has_inspection:
            kinds += ["inspection it has not"] * 2
        kind = rng.choice(kinds)
        beat = rng.randrange(65536)
        levels = [0] * reg.ZONES_MAX
        if kind == "read":
            self._ask(line.sealed(struct.pack(">BBHH", 1, 4, 32, 20)))
        elif kind == "light":
            levels[: guard.zone_count] = [rng.choice((0, 500, 1000)) for _ in range(guard.zone_count)]
            self._ask(line.write(line.HEARTBEAT, beat, 0, 0, *levels))
        elif kind == "disarm":
            self._ask(line.write(line.ARM, 0))
        elif kind == "limits above the ceiling":
            air = rng.random() < 0.5
            ceiling = guard.air_ceiling_centi_c if air else guard.bank_ceiling_centi_c
            self._refused(kind, line.AIR_LIMIT if air else line.BANK_LIMIT, ceiling + rng.choice((1, 500)))
        elif kind == "zones it has not":
            if guard.zone_count < reg.ZONES_MAX:
                levels[rng.randrange(guard.zone_count, reg.ZONES_MAX)] = 1000
                self._refused(kind, line.HEARTBEAT, beat, 0, 0, *levels)
        elif kind == "inspection it has not":
            self._refused(kind, line.HEARTBEAT, beat, 0, 300, *levels)
        elif kind == "wrong service key":
            self._refused(kind, line.SERVICE, rng.choice((0, 1, reg.SERVICE_KEY - 1)))
        elif kind == "service while armed":
            self._refused(kind, line.SERVICE, reg.SERVICE_KEY)
        elif kind == "wrong clear":
            self._refused(kind, line.CLEAR, guard.trip_cause % 11 + 1)
        elif kind == "clear at once":
            if self._cause_lasts(guard.trip_cause):
                self._refused(kind, line.CLEAR, guard.trip_cause)
        else:
            self._refused(kind, line.ARM, 1)

    def _cause_lasts(self, cause: int) -> bool:
        """True if the trip's cause is surely still there, by the true state of the chamber."""
        world = self._stage.world
        limits = (world.node.guard.air_limit(), world.node.guard.bank_limit())
        if world.truth.stop_pressed or world.board.air_chip.fault.value in ("silent", "crc", "range"):
            return world.now_s - self._stage.last_strike_s > 1.5
        noise_k = 0.5
        healthy = world.board.air_chip.fault.value == "ok" and all(f.value == "ok" for f in world.board.bank_fault)
        return healthy and (
            world.plant.air_temp_c > limits[0] / 100 - 3 + noise_k
            or max(world.plant.temps_c[1:]) > limits[1] / 100 - 3 + noise_k
        )

    def _ask(self, frame: bytes) -> bytes:
        stage = self._stage
        stage.witness.arrived(stage.world.now_s, line.written(frame))
        if line.LEVELS in line.written(frame):
            self.lit_s.append(stage.world.now_s)
        overheard: list[bytes] = []
        stage.line.overheard = overheard
        stage.world.deliver(frame)
        stage.line.overheard = None
        return b"".join(overheard)

    def _refused(self, kind: str, address: int, *values: int) -> None:
        world = self._stage.world
        busy = bool(world.node.server.pending) or bool(world.board.received)
        frame = line.write(address, *values)
        before = (list(world.node.guard.level_permille), world.node.guard.air_limit(), world.node.guard.bank_limit())
        answer = self._ask(frame)
        if busy or not answer:
            return  # behind half a frame, or the board hangs
        if answer[-5:] not in (line.sealed(bytes((1, 0x90, code))) for code in (ILLEGAL_VALUE, NOT_NOW)):
            self.wrong.append(f"{kind}: the board answered {answer.hex(' ')} at {world.now_s:.3f} s")
        guard = world.node.guard if world.node is not None else None
        if guard is None or not any(guard.level_permille):
            return  # the very pass may have had a reason to go dark
        if (guard.level_permille, guard.air_limit(), guard.bank_limit()) != before:
            self.wrong.append(f"{kind}: refused, yet something changed at {world.now_s:.3f} s")
