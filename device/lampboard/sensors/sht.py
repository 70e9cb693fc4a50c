"""What SHT3x and SHT4x share: two words over I2C, each with a checksum, temperature first.

Layout, checksum and formulae as in the maker's datasheets, restated from public drivers.
"""

from lampboard.registers import NO_VALUE, SENSOR_CRC, SENSOR_OK, SENSOR_RANGE, SENSOR_SILENT

TEMP_CENTI_C_MIN = -4000  # the chips are specified from here
TEMP_CENTI_C_MAX = 12500  # to here


def crc8(data):
    """CRC-8, polynomial 0x31, start 0xFF, not reflected; 0xBE 0xEF gives 0x92. 0 over a word and its own checksum."""
    crc = 0xFF
    for byte in data:
        crc ^= byte
        crc = (crc << 4 & 0xFF) ^ _NIBBLES[crc >> 4]
        crc = (crc << 4 & 0xFF) ^ _NIBBLES[crc >> 4]
    return crc


def _nibbles():
    """CRC of each high nibble: 16 bytes of table halve the time of a measurement's six checksum bytes."""
    table = bytearray(16)
    for nibble in range(16):
        crc = nibble << 4
        for _ in range(4):
            crc = (crc << 1 ^ 0x31) & 0xFF if crc & 0x80 else crc << 1
        table[nibble] = crc
    return bytes(table)


_NIBBLES = _nibbles()


def temp_centi_c(raw):
    """T = -45 + 175 raw / 65535."""
    return -4500 + (17500 * raw + 32767) // 65535


class Sht:
    """A chip of the family. A subclass says `measure` (the command), `conversion_ms` and humidity_centi_pct(raw)."""

    def __init__(self, bus, address=0x44):
        """bus: an object with writeto(address, data) and readfrom_into(address, buffer), such as machine.I2C."""
        self.bus = bus
        self.address = address
        self.raw = bytearray(6)
        self.started = False

    def start(self):
        """Begins a measurement. Does not wait and never raises."""
        try:
            self.bus.writeto(self.address, self.measure)
            self.started = True
        except OSError:
            self.started = False

    def fetch(self):
        """(status, temp_centi_c, humidity_centi_pct), conversion_ms after start. Never raises."""
        try:
            if not self.started:
                return SENSOR_SILENT, NO_VALUE, NO_VALUE
            self.started = False
            self.bus.readfrom_into(self.address, self.raw)
        except OSError:  # the chip answers so too while it still measures
            return SENSOR_SILENT, NO_VALUE, NO_VALUE
        raw = self.raw
        if crc8(raw[:3]) or crc8(raw[3:]):
            return SENSOR_CRC, NO_VALUE, NO_VALUE
        temp = temp_centi_c(raw[0] << 8 | raw[1])
        humidity_raw = raw[3] << 8 | raw[4]
        # A good checksum proves the wire, not the chip: ends of the scale are no reading of any air.
        if not TEMP_CENTI_C_MIN <= temp <= TEMP_CENTI_C_MAX or humidity_raw == 0:
            return SENSOR_RANGE, NO_VALUE, NO_VALUE
        return SENSOR_OK, temp, self.humidity_centi_pct(humidity_raw)
