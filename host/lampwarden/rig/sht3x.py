"""An SHT3x humidity and temperature sensor, as an I2C master sees it. The real driver talks to it.

Commands, conversion times and checksum follow the sensor's data sheet (from memory, except the conversion formulas
and the CRC, which tests check against published vectors). A missing acknowledge is OSError 5, as on the board.
"""

from collections.abc import Callable, Iterator
from enum import Enum, unique

ADDRESS = 0x44
_EIO = 5
_CONVERSION_MS = {
    0x2400: 15, 0x240B: 6, 0x2416: 4,  # single shot; high, medium, low repeatability
    0x2C06: 0, 0x2C0D: 0, 0x2C10: 0,  # the same with clock stretching: the read itself waits
}  # fmt: skip
_QUIET_COMMANDS = (0x30A2, 0x3041, 0x3066, 0x3093)  # soft reset, clear status, heater off, break
_STATUS = 0xF32D


@unique
class AirFault(Enum):
    """What is wrong with the air sensor."""

    OK = "ok"
    SILENT = "silent"
    CRC = "crc"
    FROZEN = "frozen"
    RANGE = "range"
    DRIFT = "drift"


def _crc8_table() -> bytes:
    table = bytearray()
    for value in range(256):
        for _ in range(8):
            value = (value << 1 ^ 0x31 if value & 0x80 else value << 1) & 0xFF
        table.append(value)
    return bytes(table)


_CRC8 = _crc8_table()


def word(raw: int) -> bytes:
    """A 16 bit word and its CRC-8 (polynomial 0x31, start 0xFF). Example: 0xBEEF gives BE EF 92."""
    high, low = raw >> 8, raw & 0xFF
    return bytes((high, low, _CRC8[_CRC8[0xFF ^ high] ^ low]))


class Sht3x:
    """The bus object given to the driver: writeto, readfrom, readfrom_into, scan, as machine.I2C has them."""

    def __init__(
        self, now_ms: Callable[[], int], truth: Callable[[], tuple[float, float]], noise: Iterator[int]
    ) -> None:
        """`truth` gives the air temperature in C and the relative humidity in %; `noise` is in raw counts."""
        self.fault = AirFault.OK
        self.drift_k_h = 6.0
        """How fast the error grows in the drift fault, K/h; negative reads too cold."""
        self.drift_since_ms = 0
        self._now_ms, self._truth, self._noise = now_ms, truth, noise
        self._words = b""
        self._answer: bytes | None = None
        self._ready_ms = 0

    def scan(self) -> list[int]:
        return [] if self.fault is AirFault.SILENT else [ADDRESS]

    def writeto(self, address: int, data: bytes, stop: bool = True) -> int:
        """Take a command; returns the number of acknowledged bytes. Raises OSError if nobody acknowledges."""
        if address != ADDRESS or self.fault is AirFault.SILENT or len(data) != 2:
            raise OSError(_EIO)
        command = data[0] << 8 | data[1]
        conversion_ms = _CONVERSION_MS.get(command)
        if conversion_ms is not None:
            self._answer = self._measure()
            self._ready_ms = self._now_ms() + conversion_ms
        elif command == _STATUS:
            self._answer, self._ready_ms = word(0), 0
        elif command in _QUIET_COMMANDS:
            self._answer = None
        else:
            raise OSError(_EIO)
        return 2

    def readfrom_into(self, address: int, buffer: bytearray | memoryview, stop: bool = True) -> None:
        """Hand out the last answer, once. Raises OSError before it is ready, after it was read, or if silent."""
        answer = self._answer
        if address != ADDRESS or self.fault is AirFault.SILENT or answer is None or self._now_ms() < self._ready_ms:
            raise OSError(_EIO)
        self._answer = None
        count = len(buffer)
        buffer[:] = (answer + b"\xff" * count)[:count]  # the bus reads 1s where nobody drives it

    def readfrom(self, address: int, count: int, stop: bool = True) -> bytes:
        buffer = bytearray(count)
        self.readfrom_into(address, buffer)
        return bytes(buffer)

    def _measure(self) -> bytes:
        """Six bytes: temperature, humidity, each with its checksum."""
        fault = self.fault
        if fault is AirFault.RANGE:
            return word(0xFFFF) + word(0x0000)  # 130 C: beyond what the sensor can mean
        if fault is not AirFault.FROZEN or not self._words:
            temp_c, humidity_pct = self._truth()
            if fault is AirFault.DRIFT:
                temp_c += self.drift_k_h * (self._now_ms() - self.drift_since_ms) / 3.6e6
            temp_raw = round((temp_c + 45) * (65535 / 175)) + next(self._noise)
            humidity_raw = round(humidity_pct * (65535 / 100)) + next(self._noise)
            self._words = word(min(65535, max(0, temp_raw))) + word(min(65535, max(0, humidity_raw)))
        if fault is AirFault.CRC:
            return (
                self._words[:2] + bytes((self._words[2] ^ 0xA5,)) + self._words[3:5] + bytes((self._words[5] ^ 0xA5,))
            )
        return self._words
