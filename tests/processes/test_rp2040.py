"""The firmware as it lies on a board, on an emulated RP2040 with a real MicroPython image."""

import importlib.util
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from lampboard import registers as reg
from lampwarden.errors import LinkError
from lampwarden.link.board import Board, Demand, Live
from lampwarden.link.transport import WireTransport

if TYPE_CHECKING:
    from .rp2040 import EmulatedBoard

IMAGE = os.environ.get("LAMPWARDEN_RP2040_IMAGE") or None
HERE = all(importlib.util.find_spec(name) for name in ("rp2040py", "littlefs"))
BOOT_S = 20.0
WATCHDOG_S = 2.0
DARK = Demand((0.0,) * 6)
LIT = Demand((0.0, 0.4, 0.0, 0.0, 1.0, 0.0))

pytestmark = [
    pytest.mark.timeout(3600),
    pytest.mark.skipif(
        IMAGE is None, reason="LAMPWARDEN_RP2040_IMAGE names no MicroPython image (.uf2) for the emulated RP2040"
    ),
    pytest.mark.skipif(not HERE, reason="the extra 'rp2040' is not installed: pip install -e .[rp2040]"),
]


@pytest.fixture
def emulated(tmp_path: Path) -> "Iterator[EmulatedBoard]":
    from .rp2040 import EmulatedBoard

    assert IMAGE is not None
    board = EmulatedBoard(Path(IMAGE), tmp_path)
    yield board
    board.stop()


def until_alive(emulated: "EmulatedBoard", board: Board, demand: Demand) -> Live:
    """Asks until the board answers with a temperature of the air."""
    end_s = emulated.now_s + BOOT_S
    while True:
        try:
            live = board.exchange(demand)
            if live.air_temp_c is not None:
                return live
        except LinkError:
            pass
        assert emulated.now_s < end_s, "the board never answered"


def test_the_firmware_on_an_emulated_rp2040(emulated: "EmulatedBoard") -> None:
    emulated.start(hammer=True)
    emulated.until(lambda: emulated.fc03_answers > 3, BOOT_S)  # byte 0x03 came all through the boot, and it lives
    emulated.rest()
    assert emulated.pins.dark

    board = Board(WireTransport(emulated))
    identity = board.identify()
    assert (identity.zone_count, identity.bank_count) == (6, 6)
    live = until_alive(emulated, board, DARK)
    assert live.air_temp_c == pytest.approx(emulated.pins.air_temp_c, abs=0.1)
    assert live.bank_temps_c == pytest.approx((30.0,) * 6, abs=0.5)
    assert (live.board_state, live.door_open, live.stop_pressed) == ("dark", False, False)

    light(emulated, board)
    emulated.pins.air_temp_c = 60.0
    while (live := board.exchange(LIT)).trip_cause == reg.TRIP_NONE:
        assert live.uptime_s < 60
    assert live.trip_cause == reg.TRIP_AIR_OVER
    assert emulated.pins.dark
    assert emulated.measured_share(4) == 0.0

    emulated.pins.air_temp_c = 25.0
    emulated.pass_time(1.0)
    assert board.exchange(DARK).air_temp_c == pytest.approx(25.0, abs=0.1)
    board.clear_trip(reg.TRIP_AIR_OVER)
    light(emulated, board)
    emulated.hang()
    emulated.until(lambda: emulated.watchdog_resets == 1, WATCHDOG_S + 0.5)
    assert emulated.dark_at_reset
    live = until_alive(emulated, board, LIT)
    assert live.boot_count == identity.boot_count + 1
    assert board.identify().reset_cause == reg.RESETS[reg.RESET_WATCHDOG]
    assert (live.board_state, live.zone_applied) == ("dark", (0.0,) * 6)
    assert emulated.pins.dark


def light(emulated: "EmulatedBoard", board: Board) -> None:
    """Arms and lights; the pins carry what was asked, by their settings and by their edges."""
    board.set_limits(40.0, 60.0, 10.0)
    board.arm()
    board.exchange(LIT)
    emulated.pass_time(0.05)
    assert board.exchange(LIT).zone_applied == pytest.approx(LIT.zone_levels)
    assert emulated.pins.enabled
    for zone, level in enumerate(LIT.zone_levels):
        assert emulated.pins.set_share(zone) == pytest.approx(level, abs=0.002)
        assert emulated.measured_share(zone) == pytest.approx(level, abs=0.02)
