"""What the firmware sees of the simulated hardware, against published values and the firmware's own drivers."""

import itertools
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampboard.sensors import ntc
from lampwarden.rig.board_layer import TICKS_MASK, SimBoard, noise, ntc_kohm


@pytest.mark.parametrize(
    ("temp_c", "kohm"), [(-10, 42.47), (25, 10.0), (40, 5.827), (60, 3.020), (100, 0.9731)]
)  # 103AT-2 class table, published
def test_thermistor_passes_through_its_table(temp_c, kohm):
    assert ntc_kohm(temp_c) == pytest.approx(kohm, rel=1e-9)


@given(st.floats(0, 90))
def test_thermistor_agrees_with_steinhart_and_hart(temp_c):
    """Constants fitted through 0, 25 and 60 C of the same table agree with it within 0.07 K (computed)."""
    assert ntc.steinhart_hart_centi_c(ntc_kohm(temp_c) * 1000) / 100 == pytest.approx(temp_c, abs=0.12)


@pytest.mark.parametrize(("temp_c", "count"), [(25, 2048), (40, 1508), (50, 1203), (60, 950)])
def test_divider_gives_the_known_counts(desk, temp_c, count):
    """10 kOhm above, thermistor to ground, 12 bit (computed from the table)."""
    board = desk(adc_noise_lsb=0).world.board
    board._plant.temps_c[1] = temp_c
    board.settle_dividers()
    assert board.bank_adc(0) >> 4 == pytest.approx(count, abs=3)


@pytest.mark.parametrize("temp_c", [0, 22, 35, 55, 63, 70, 80])
def test_firmware_reads_back_the_plate(desk, temp_c):
    board = desk(adc_noise_lsb=0).world.board
    board._plant.temps_c[2] = temp_c
    board.settle_dividers()
    status, centi_c = ntc.read(board.bank_adc(1))
    assert status == 0
    assert centi_c / 100 == pytest.approx(temp_c, abs=0.15)


def test_converter_spreads_12_bits_over_16_with_noise(desk):
    board = desk().world.board
    codes = {board.bank_adc(0) for _ in range(400)}
    assert 3 < len(codes) < 12
    assert all(code & 0xF == code >> 12 for code in codes)
    assert 0.02 < statistics.pstdev(ntc.read(board.bank_adc(0))[1] / 100 for _ in range(1000)) < 0.04


@pytest.mark.parametrize(("fault", "codes"), [("open", range(65000, 65536)), ("short", range(500))])
def test_broken_thermistor_reads_at_an_end(desk, fault, codes):
    world = desk().world
    world.ntc(2, fault)
    assert all(world.board.bank_adc(2) in codes for _ in range(200))
    world.ntc(2, "ok")
    assert 30000 < world.board.bank_adc(2) < 40000


@given(st.integers(0, TICKS_MASK), st.integers(-(2**29) + 1, 2**29 - 1))
def test_ticks_differences_hold_across_the_wrap(earlier, passed):
    assert SimBoard.ticks_diff(None, (earlier + passed) & TICKS_MASK, earlier) == passed


def test_noise_is_repeatable_and_of_the_size_asked_for():
    one, same, other = ([*itertools.islice(noise(seed, 10.0), 9000)] for seed in ("1 air", "1 air", "2 air"))
    assert one == same != other
    assert statistics.pstdev(one) == pytest.approx(10.0, rel=0.05)
    assert abs(statistics.mean(one)) < 0.6


def test_bytes_nobody_listens_for_are_lost(desk):
    board = desk().world.board
    sent = []
    board.send = sent.append
    board.write(b"abc")
    board.received += b"xyz"
    assert (sent, board.read(), board.read()) == ([b"abc"], b"xyz", b"")
