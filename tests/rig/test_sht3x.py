"""The simulated sensor against published vectors, register by register."""

import itertools

import pytest

from lampwarden.rig.sht3x import ADDRESS, AirFault, Sht3x, word


class Bench:
    def __init__(self, temp_c=25.0, humidity_pct=40.0, noise=(0,)):
        self.now_ms, self.air = 0, (temp_c, humidity_pct)
        self.chip = Sht3x(lambda: self.now_ms, lambda: self.air, itertools.cycle(noise))

    def measure(self) -> bytes:
        self.chip.writeto(ADDRESS, b"\x24\x00")
        self.now_ms += 15
        return self.chip.readfrom(ADDRESS, 6)


@pytest.mark.parametrize(
    ("raw", "crc"), [(0xBEEF, 0x92), (0x0000, 0x81), (0xFFFF, 0xAC)]
)  # published, quoted from the data sheet in many places; 0xFFFF computed
def test_checksum(raw, crc):
    assert word(raw) == raw.to_bytes(2, "big") + bytes((crc,))


@pytest.mark.parametrize(
    ("temp_c", "humidity_pct", "raw_temp", "raw_humidity"),
    [
        (25.0, 40.0, 0x6666, 0x6666),
        (-45.0, 0.0, 0, 0),
        (130.0, 100.0, 0xFFFF, 0xFFFF),
        (85.523, 74.585, 0xBEEF, 0xBEEF),
    ],
)  # T = -45 + 175 raw / 65535, RH = 100 raw / 65535 (published)
def test_conversion(temp_c, humidity_pct, raw_temp, raw_humidity):
    assert Bench(temp_c, humidity_pct).measure() == word(raw_temp) + word(raw_humidity)


def test_answer_needs_a_command_its_time_and_is_read_once():
    bench = Bench()
    with pytest.raises(OSError, match="5"):
        bench.chip.readfrom(ADDRESS, 6)
    bench.chip.writeto(ADDRESS, b"\x24\x00")
    bench.now_ms = 14
    with pytest.raises(OSError, match="5"):
        bench.chip.readfrom(ADDRESS, 6)
    bench.now_ms = 15
    assert bench.chip.readfrom(ADDRESS, 6) == word(0x6666) * 2
    with pytest.raises(OSError, match="5"):
        bench.chip.readfrom(ADDRESS, 6)


def test_other_addresses_and_commands_are_not_acknowledged():
    chip = Bench().chip
    with pytest.raises(OSError, match="5"):
        chip.writeto(0x45, b"\x24\x00")
    with pytest.raises(OSError, match="5"):
        chip.writeto(ADDRESS, b"\xfd\x00")
    with pytest.raises(OSError, match="5"):
        chip.writeto(ADDRESS, b"\x24")
    assert chip.writeto(ADDRESS, b"\x30\xa2") == 2
    chip.writeto(ADDRESS, b"\xf3\x2d")
    assert chip.readfrom(ADDRESS, 3) == word(0)


def test_silent():
    bench = Bench()
    assert bench.chip.scan() == [ADDRESS]
    bench.chip.fault = AirFault.SILENT
    assert bench.chip.scan() == []
    with pytest.raises(OSError, match="5"):
        bench.measure()


def test_crc_fault_spoils_the_checksums_alone():
    bench = Bench()
    bench.chip.fault = AirFault.CRC
    good, bad = word(0x6666) * 2, bench.measure()
    assert [index for index in range(6) if good[index] != bad[index]] == [2, 5]


def test_frozen_repeats_the_last_words_while_noise_and_air_move():
    bench = Bench(noise=(1, -2, 3, 5, -4))
    first, second = bench.measure(), bench.measure()
    assert first != second
    bench.chip.fault = AirFault.FROZEN
    bench.air = (50.0, 10.0)
    assert [bench.measure() for _ in range(3)] == [second] * 3
    bench.chip.fault = AirFault.OK
    assert bench.measure() != second


def test_range_is_a_good_frame_beyond_the_sensor():
    bench = Bench()
    bench.chip.fault = AirFault.RANGE
    assert bench.measure()[:3] == word(0xFFFF)


def test_drift_grows_from_its_beginning():
    bench = Bench()
    bench.now_ms = bench.chip.drift_since_ms = 3_600_000
    bench.chip.fault, bench.chip.drift_k_h = AirFault.DRIFT, -6.0
    bench.now_ms += 1_800_000
    raw = int.from_bytes(bench.measure()[:2], "big")
    assert -45 + 175 * raw / 65535 == pytest.approx(22.0, abs=0.002)


def test_extremes_are_clipped_to_the_word():
    assert Bench(400.0, 100.0, noise=(9,)).measure() == word(0xFFFF) * 2
    assert Bench(-80.0, 0.0, noise=(-9,)).measure() == word(0) * 2
