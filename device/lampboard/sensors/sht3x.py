"""SHT3x: air temperature and humidity over I2C, at 0x44 or 0x45."""

from lampboard.sensors.sht import Sht


class Sht3x(Sht):
    measure = b"\x24\x00"  # single shot, high repeatability, no clock stretching: the bus is never held
    conversion_ms = 16  # 15.5 ms at most (from memory of the datasheet)

    @staticmethod
    def humidity_centi_pct(raw):
        """RH = 100 raw / 65535."""
        return (10000 * raw + 32767) // 65535
