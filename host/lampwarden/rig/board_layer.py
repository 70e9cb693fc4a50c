"""The board layer under the firmware in the simulated chamber: pins, converters, ticks, watchdog.

The firmware cannot tell it from a real board. Its methods are called ten times a virtual second for days, so they are
plain attribute reads where they can be.
"""

import itertools
import math
import random
from collections.abc import Callable, Iterator
from enum import Enum, unique
from functools import cache

from lampboard import registers
from lampboard.sensors.sht3x import Sht3x as AirDriver

from .design import RigDesign
from .plant import Plant
from .sht3x import Sht3x
from .truth import Truth

TICKS_MASK = 2**30 - 1  # ticks wrap as on the RP2040 port
_HALF = 2**29

_NTC_KOHM = (
    (-10, 42.47), (0, 27.28), (10, 17.96), (20, 12.09), (25, 10.0), (30, 8.313), (40, 5.827),
    (50, 4.160), (60, 3.020), (70, 2.228), (80, 1.668), (85, 1.451), (90, 1.266), (100, 0.9731),
)  # fmt: skip
"""10 kOhm thermistor, B25/85 3435: C and kOhm of a published table (103AT-2 class, read in public design files)."""
_DIVIDER_KOHM = 10.0  # from the supply; the thermistor goes to ground
_GRID_K = 0.02  # finer than one count of the converter
_GRID_LOW_C, _GRID_HIGH_C = -10.0, 150.0


@unique
class BankFault(Enum):
    """What is wrong with a bank's thermistor."""

    OK = "ok"
    OPEN = "open"
    SHORT = "short"


def ntc_kohm(temp_c: float) -> float:
    """Resistance of the thermistor, kOhm: ln R interpolated over 1/T between the table's rows, extended at the ends."""
    rows = _NTC_KOHM
    at = next((i for i, row in enumerate(rows[1:-1]) if temp_c < row[0]), len(rows) - 2)
    (t0, r0), (t1, r1) = rows[at], rows[at + 1]
    inverse = [1 / (t + 273.15) for t in (t0, temp_c, t1)]
    share = (inverse[1] - inverse[0]) / (inverse[2] - inverse[0])
    return math.exp(math.log(r0) + share * (math.log(r1) - math.log(r0)))


@cache
def _counts_over_temp() -> tuple[int, ...]:
    """12 bit converter counts on a grid of temperatures; made once, since logarithms are slow."""
    steps = round((_GRID_HIGH_C - _GRID_LOW_C) / _GRID_K)
    ohms = (ntc_kohm(_GRID_LOW_C + step * _GRID_K) for step in range(steps + 1))
    return tuple(round(4095 * kohm / (kohm + _DIVIDER_KOHM)) for kohm in ohms)


def _count(temp_c: float) -> int:
    """12 bit converter count of a healthy thermistor."""
    if not _GRID_LOW_C <= temp_c <= _GRID_HIGH_C:
        temp_c = _GRID_LOW_C if temp_c < _GRID_LOW_C else _GRID_HIGH_C
    return _counts_over_temp()[round((temp_c - _GRID_LOW_C) / _GRID_K)]


_DIVIDER: dict[BankFault, Callable[[float], int]] = {
    BankFault.OK: _count,
    BankFault.OPEN: lambda temp_c: 4095,
    BankFault.SHORT: lambda temp_c: 0,
}


def noise(seed: object, deviation: float) -> Iterator[int]:
    """Endless whole numbers, normal with this standard deviation; a drawn ring, since drawing each is slow."""
    draw = random.Random(f"{seed}")
    return itertools.cycle([round(draw.gauss(0, deviation)) for _ in range(4093)])


class SimBoard:
    """What node.Node needs of a board. The world moves `now_ms`, resets it and sets its faults."""

    def __init__(
        self, design: RigDesign, plant: Plant, zone_count: int, bank_count: int, has_inspection: bool, seed: int
    ) -> None:
        self.zone_count, self.bank_count, self.has_inspection = zone_count, bank_count, has_inspection
        self.unique_id = random.Random(f"{seed} unique id").randbytes(8)
        self.boot_count = 0
        self.reset_cause = registers.RESET_POWER_ON
        self.air_ceiling_centi_c = round(design.air_ceiling_c * 100)
        self.bank_ceiling_centi_c = round(design.bank_ceiling_c * 100)
        self.lit_ceiling_s = design.lit_ceiling_s

        self.now_ms = 0
        """Virtual time since the world began, ms."""
        self.ticks_start_ms = 0
        """Ticks at boot; set near 2**30 and reboot to see them wrap soon."""
        self.fed_ms = 0
        self.error: int | None = None
        """Reset cause that the firmware recorded for its next boot."""
        self.left = False
        """The firmware asked for the prompt (service mode): it starts again only after a power cycle."""
        self.received = bytearray()
        """Bytes on their way to the firmware."""
        self.send: Callable[[bytes], None] = _nobody_listens
        """Takes what the firmware writes."""
        self.bank_fault = [BankFault.OK] * bank_count

        self.truth = Truth(zone_count, lambda: self.now_ms)
        self.air_chip = Sht3x(
            lambda: self.now_ms,
            lambda: (plant.air_temp_c, plant.humidity_pct),
            noise(f"{seed} air", design.air_noise_lsb),
        )
        self.air = AirDriver(self.air_chip)
        self._plant = plant
        self._adc_noise = noise(f"{seed} adc", design.adc_noise_lsb)
        self._ticks_zero_ms = 0
        self.settle_dividers()

    def settle_dividers(self) -> None:
        """Work out what the converter sees of each thermistor, after the plates or a fault have changed."""
        plates_c = self._plant.temps_c[1:]
        self._divider = [_DIVIDER[fault](temp_c) for fault, temp_c in zip(self.bank_fault, plates_c, strict=True)]

    def power_up(self, reset_cause: int) -> None:
        """What hardware does at a reset: ticks restart, bytes are lost, a remembered error tells the cause."""
        self.boot_count += 1
        self.reset_cause = reset_cause if self.error is None else self.error
        self.error = None
        self.received.clear()
        self.fed_ms = self.now_ms
        self._ticks_zero_ms = self.now_ms - self.ticks_start_ms

    def pins_off(self) -> None:
        """All outputs low, as pull-downs hold them from a reset until the firmware drives them."""
        for zone in range(self.zone_count):
            self.set_zone(zone, 0)
        self.set_inspection(0)
        self.set_fan(0)

    # --- as the firmware calls it ---------------------------------------------------------------------------------
    def ticks_ms(self) -> int:
        return (self.now_ms - self._ticks_zero_ms) & TICKS_MASK

    def ticks_diff(self, later: int, earlier: int) -> int:
        return ((later - earlier + _HALF) & TICKS_MASK) - _HALF

    def read(self) -> bytes:
        if not self.received:
            return b""
        data = bytes(self.received)
        self.received.clear()
        return data

    def write(self, data: bytes) -> None:
        self.send(bytes(data))

    def door_open(self) -> bool:
        return self.truth.door_open

    def stop_pressed(self) -> bool:
        return self.truth.stop_pressed

    def bank_adc(self, bank: int) -> int:
        """Converter reading of a bank's divider, 0..65535: 12 bits spread as the RP2040 port does."""
        count = self._divider[bank] + next(self._adc_noise)
        if not 0 <= count <= 4095:
            count = 0 if count < 0 else 4095
        return count << 4 | count >> 8

    def set_zone(self, zone: int, permille: int) -> None:
        if permille != self.truth.zone_permille[zone]:
            self.truth.zone(zone, permille)

    def set_inspection(self, permille: int) -> None:
        if permille != self.truth.inspection_permille:
            self.truth.inspection_permille = permille
            self.truth.note("inspection", permille)

    def set_fan(self, permille: int) -> None:
        if permille != self.truth.fan_permille:
            self.truth.fan_permille = permille
            self.truth.note("fan", permille)

    def feed(self) -> None:
        self.fed_ms = self.now_ms

    def record_error(self, reset_cause: int) -> None:
        self.error = reset_cause

    def leave(self) -> None:
        self.left = True


def _nobody_listens(data: bytes) -> None:
    """A port that nobody holds open: bytes are lost."""
