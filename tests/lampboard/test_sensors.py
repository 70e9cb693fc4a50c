"""Sensor arithmetic against published values (status of each as in the project's list of facts)."""

import pytest

from lampboard.registers import NO_VALUE, SENSOR_CRC, SENSOR_OK, SENSOR_RANGE, SENSOR_SILENT
from lampboard.sensors import ntc
from lampboard.sensors.sht import crc8, temp_centi_c
from lampboard.sensors.sht3x import Sht3x
from lampboard.sensors.sht4x import Sht4x


class Bus:
    """An I2C bus with one chip that answers the last command with these bytes, or not at all."""

    def __init__(self, answer):
        self.answer = answer
        self.commands = []

    def writeto(self, address, command):
        self.commands.append((address, bytes(command)))
        if self.answer is None:
            raise OSError(5)

    def readfrom_into(self, address, buffer):
        if self.answer is None:
            raise OSError(5)
        buffer[:] = self.answer


def words(temp, humidity):
    data = bytes((temp >> 8, temp & 0xFF)), bytes((humidity >> 8, humidity & 0xFF))
    return b"".join(word + bytes((crc8(word),)) for word in data)


def fetched(chip, answer):
    sensor = chip(Bus(answer))
    sensor.start()
    return sensor.fetch()


@pytest.mark.parametrize(
    ("data", "crc"),
    [
        (b"\xbe\xef", 0x92),  # SHT3x and SHT4x datasheets, restated in many public drivers
        (b"\x00\x00", 0x81),  # public drivers' tests; recomputed
        (b"\xff\xff", 0xAC),  # recomputed
        (b"123456789", 0xF7),  # CRC-8/NRSC-5 check value; recomputed
    ],
)
def test_crc8(data, crc):
    assert crc8(data) == crc
    assert crc8(data + bytes((crc,))) == 0


@pytest.mark.parametrize(
    # T = -45 + 175 raw / 65535, RH = 100 raw / 65535 or -6 + 125 raw / 65535: datasheet formulae, values computed;
    # the row of 0xBEEF is in a public driver's test
    ("raw", "temp", "sht3x", "sht4x"),
    [
        (0x0000, -45.000, 0.000, 0),  # SHT4x: -6, clipped
        (0x6666, 25.000, 40.000, 44.000),
        (0x8000, 42.501, 50.001, 56.501),
        (0xBEEF, 85.523, 74.585, 87.231),
        (0xFFFF, 130.000, 100.000, 100),  # SHT4x: 119, clipped
    ],
)
def test_sht_conversion(raw, temp, sht3x, sht4x):
    assert temp_centi_c(raw) == pytest.approx(100 * temp, abs=0.6)
    assert Sht3x.humidity_centi_pct(raw) == pytest.approx(100 * sht3x, abs=0.6)
    assert Sht4x.humidity_centi_pct(raw) == pytest.approx(100 * sht4x, abs=0.6)


@pytest.mark.parametrize(("chip", "command", "humidity"), [(Sht3x, b"\x24\x00", 5000), (Sht4x, b"\xfd", 5650)])
def test_sht_fetch(chip, command, humidity):
    bus = Bus(words(0x6666, 0x8000))
    sensor = chip(bus, 0x45)
    assert sensor.fetch() == (SENSOR_SILENT, NO_VALUE, NO_VALUE)  # nothing was begun
    sensor.start()
    assert bus.commands == [(0x45, command)]
    assert sensor.fetch() == (SENSOR_OK, 2500, humidity)
    assert sensor.fetch() == (SENSOR_SILENT, NO_VALUE, NO_VALUE)  # a reading is not given twice


@pytest.mark.parametrize("chip", [Sht3x, Sht4x])
def test_sht_faults(chip):
    nothing = (NO_VALUE, NO_VALUE)
    good = words(0x6666, 0x8000)
    assert fetched(chip, None) == (SENSOR_SILENT, *nothing)
    for place in range(6):
        for bit in range(8):
            bad = bytearray(good)
            bad[place] ^= 1 << bit
            assert fetched(chip, bytes(bad)) == (SENSOR_CRC, *nothing)
    assert fetched(chip, bytes(6)) == (SENSOR_CRC, *nothing)
    assert fetched(chip, b"\xff" * 6) == (SENSOR_CRC, *nothing)
    # good checksums, but no air: the ends of the scale, and just past the range the chip is specified for
    for temp, humidity in ((0, 0x8000), (0xFFFF, 0x8000), (1800, 0x8000), (63700, 0x8000), (0x6666, 0)):
        assert fetched(chip, words(temp, humidity)) == (SENSOR_RANGE, *nothing)


# 103AT-2 style table, B25/85 = 3435: public design files; B recomputed
@pytest.mark.parametrize(
    ("centi_c", "ohm"),
    [
        (-1000, 42470),
        (0, 27280),
        (1000, 17960),
        (2000, 12090),
        (2500, 10000),
        (3000, 8313),
        (4000, 5827),
        (5000, 4160),
        (6000, 3020),
        (7000, 2228),
        (8000, 1668),
        (8500, 1451),
        (9000, 1266),
        (10000, 973.1),
    ],
)
def test_ntc_table(centi_c, ohm):
    status, shown = ntc.read(round(65535 * ohm / (ohm + 10000)))
    assert status == SENSOR_OK
    assert shown == pytest.approx(centi_c, abs=18 if centi_c == 10000 else 7)
    assert ntc.steinhart_hart_centi_c(ohm) == pytest.approx(centi_c, abs=10)


def test_ntc_between_the_points():
    """Steinhart-Hart through 0, 25 and 60 C is within 0.07 K of the table from 0 to 90 C (computed)."""
    for adc in range(ntc.CODE_MIN, ntc.CODE_MAX + 1, 7):
        ohm = 10000 * adc / (65535 - adc)
        assert abs(ntc.read(adc)[1] - ntc.steinhart_hart_centi_c(ohm)) <= 26


# Divider 10 kOhm over the NTC, 12 bit codes: computed
@pytest.mark.parametrize(("centi_c", "code"), [(2500, 2048), (4000, 1508), (5000, 1203), (6000, 950)])
def test_ntc_divider(centi_c, code):
    assert ntc.read(code << 4)[1] == pytest.approx(centi_c, abs=6)


def test_ntc_open_or_short():
    for adc in (0, 100, ntc.CODE_MIN - 1, ntc.CODE_MAX + 1, 4095 << 4, 65535):
        assert ntc.read(adc) == (SENSOR_RANGE, NO_VALUE)


def test_ntc_falls_without_a_step_back():
    shown = [ntc.read(adc)[1] for adc in range(ntc.CODE_MIN, ntc.CODE_MAX + 1)]
    assert shown == sorted(shown, reverse=True)


def test_ntc_there_and_back():
    for centi_c in range(-990, 9990, 13):
        assert abs(ntc.read(ntc.adc_code(centi_c))[1] - centi_c) <= 1
    for centi_c in (-4000, 15000):
        assert ntc.read(ntc.adc_code(centi_c)) == (SENSOR_RANGE, NO_VALUE)
