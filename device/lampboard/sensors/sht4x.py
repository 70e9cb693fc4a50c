"""SHT4x: air temperature and humidity over I2C, at 0x44 or 0x45."""

from lampboard.sensors.sht import Sht


class Sht4x(Sht):
    measure = b"\xfd"  # high precision, heater off
    conversion_ms = 9  # 8.2 ms at most, as public drivers restate the datasheet

    @staticmethod
    def humidity_centi_pct(raw):
        """RH = -6 + 125 raw / 65535, clipped to 0..100 %: the scale overlaps both ends on purpose."""
        return min(10000, max(0, -600 + (12500 * raw + 32767) // 65535))
