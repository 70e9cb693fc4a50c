"""The firmware on a real MicroPython, behind a pty, read and written by two Modbus masters that are not ours."""

import re
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator

import pytest
from pymodbus import FramerType
from pymodbus.client import ModbusSerialClient

from lampboard import registers
from lampboard.registers import LIVE, ROWS, UNIT_ID, width

ALL_LIT = [500, 0, 1000, 0, 0, 250, 0, 0]
SLACK_MS = 500  # a busy machine


def address(name: str) -> int:
    return registers.row(name)[1]


def eventually(check: Callable[[], object], limit_s: float = 5.0) -> None:
    deadline_s = time.monotonic() + limit_s
    while not check():
        assert time.monotonic() < deadline_s, "it did not come to pass"
        time.sleep(0.02)


class Master:
    """pymodbus with the names of the table."""

    def __init__(self, port: str) -> None:
        self.client = ModbusSerialClient(port, framer=FramerType.RTU, baudrate=115200, timeout=1, retries=0)
        assert self.client.connect()
        self.heartbeat = 0

    def live(self) -> dict[str, list[int]]:
        reply = self.client.read_input_registers(LIVE[0], count=LIVE[1], device_id=UNIT_ID)
        assert not reply.isError(), reply
        values = {}
        for space, first, name, code, count, *_rest in ROWS:
            if space == "input" and first >= LIVE[0]:
                at = first - LIVE[0]
                words = reply.registers[at : at + count * width(code)]
                if code == "I":
                    words = [high << 16 | low for high, low in zip(words[::2], words[1::2], strict=True)]
                values[name] = [word - 65536 if code == "h" and word > 32767 else word for word in words]
        return values

    def write(self, name: str, *values: int) -> int:
        """The exception code, 0 if it was obeyed."""
        reply = self.client.write_registers(address(name), [value & 0xFFFF for value in values], device_id=UNIT_ID)
        return reply.exception_code if reply.isError() else 0

    def beat(self, *levels: int) -> int:
        self.heartbeat += 1
        return self.write("heartbeat", self.heartbeat, 0, 0, *levels)

    def light(self, levels: list[int]) -> None:
        eventually(lambda: self.live()["air_status"] == [registers.SENSOR_OK])
        assert self.write("heartbeat_timeout_ms", 2000, 4400, 6500, 1) == 0
        assert self.beat(*levels) == 0
        eventually(lambda: self.live()["zone_applied_permille"] == levels)


@pytest.fixture
def master(desk_board) -> Iterator[Master]:
    master = Master(desk_board.port)
    yield master
    master.client.close()


def test_pymodbus_reads_and_lights(desk_board, master):
    reply = master.client.read_input_registers(0, count=17, device_id=UNIT_ID)
    assert reply.registers[1:5] == [registers.MAP_VERSION, 1, 6, 6]
    assert reply.registers[5:9] == [0x0064, 0x6573, 0x6B00, 0x0001]
    assert master.live()["board_state"] == [registers.DARK]
    assert desk_board.lamps()[0][1] == [0] * 7

    master.light(ALL_LIT)
    assert master.live()["board_state"] == [registers.LIT]
    assert desk_board.lamps()[-1][1] == [*ALL_LIT[:6], 0]
    time.sleep(0.3)
    lit_ms = master.live()["zone_lit_ms"]
    assert lit_ms[2] >= 300
    assert abs(2 * lit_ms[0] - lit_ms[2]) <= 2
    assert lit_ms[1] == 0

    holding = master.client.read_holding_registers(0, count=17, device_id=UNIT_ID).registers
    assert holding[3:11] == ALL_LIT
    assert holding[11:15] == [2000, 4400, 6500, 1]
    assert master.write("air_limit_centi_c", 6100) == 3
    reply = master.client.read_coils(0, count=1, device_id=UNIT_ID)
    assert reply.exception_code == 1
    assert master.live()["frames_bad"] == [0]


def test_goes_dark_when_the_host_falls_silent(desk_board, master):
    master.light(ALL_LIT)
    lit_tick = desk_board.lamps()[-1][0]
    eventually(lambda: not any(desk_board.lamps()[-1][1]), 4)
    dark_tick = desk_board.lamps()[-1][0]
    assert 2000 <= dark_tick - lit_tick <= 2250 + SLACK_MS
    assert master.beat(*ALL_LIT) == 0
    eventually(lambda: any(desk_board.lamps()[-1][1]))


def test_door_stop_and_heat(desk_board, master):
    master.light(ALL_LIT)
    desk_board.control(door_open=True)
    eventually(lambda: not any(desk_board.lamps()[-1][1]))
    desk_board.control(door_open=False)
    eventually(lambda: master.live()["door_open"] == [0])
    assert master.live()["door_openings"] == [1]
    assert not any(desk_board.lamps()[-1][1])

    master.light(ALL_LIT)
    desk_board.control(stop_pressed=True)
    eventually(lambda: master.live()["trip_cause"] == [registers.TRIP_STOP])
    assert not any(desk_board.lamps()[-1][1])
    assert master.write("clear_trip", registers.TRIP_STOP) == 4
    desk_board.control(stop_pressed=False)
    eventually(lambda: master.write("clear_trip", registers.TRIP_STOP) == 0)

    master.light(ALL_LIT)
    desk_board.control(air_centi_c=5100)
    eventually(lambda: master.live()["trip_cause"] == [registers.TRIP_AIR_OVER])
    assert not any(desk_board.lamps()[-1][1])


def test_boots_dark_after_kill_crash_and_stall(desk_board, master):
    master.light(ALL_LIT)
    desk_board.kill()
    desk_board.restart()
    live = master.live()
    assert live["live_boot_count"] == [2]
    assert live["board_state"] == [registers.DARK]

    master.light(ALL_LIT)
    desk_board.control(crash=True)
    eventually(lambda: not any(desk_board.lamps()[-1][1]))
    desk_board.control(crash=None)
    eventually(lambda: master.client.connected and master.live()["board_state"] == [registers.DARK])
    assert master.client.read_input_registers(11, count=1, device_id=UNIT_ID).registers == [
        registers.RESET_FIRMWARE_ERROR
    ]

    master.light(ALL_LIT)
    lit_tick = desk_board.lamps()[-1][0]
    desk_board.pause()
    time.sleep(4.1)
    desk_board.resume()
    eventually(lambda: not any(desk_board.lamps()[-1][1]))
    eventually(lambda: master.live()["board_state"] == [registers.DARK])
    dark_tick = next(tick for tick, levels in desk_board.lamps() if tick > lit_tick and not any(levels))
    assert dark_tick - lit_tick < 4500 + SLACK_MS
    assert master.client.read_input_registers(11, count=1, device_id=UNIT_ID).registers == [registers.RESET_WATCHDOG]
    assert desk_board.process.poll() is None


def test_service_mode_ends_the_process(desk_board, master):
    assert master.write("service_key", 1) == 3
    assert master.write("service_key", registers.SERVICE_KEY) == 0
    assert desk_board.process.wait(5) == 0
    assert not any(desk_board.lamps()[-1][1])


@pytest.mark.skipif(shutil.which("mbpoll") is None, reason="Debian's mbpoll is not installed: apt install mbpoll")
def test_foreign_master_reads_and_writes(desk_board):
    def mbpoll(*arguments: str) -> str:
        line = ["mbpoll", "-m", "rtu", "-a", "1", "-b", "115200", "-P", "none", "-0", "-1", "-q", "-o", "1"]
        run = subprocess.run([*line, *arguments], capture_output=True, text=True, timeout=20, check=False)
        assert run.returncode == 0, run.stdout + run.stderr
        return run.stdout

    def numbers(text: str) -> list[int]:
        return [int(value) for value in re.findall(r"^\[\d+\]:\s+(-?\d+)", text, re.MULTILINE)]

    port = desk_board.port
    identity = numbers(mbpoll("-t", "3", "-r", "0", "-c", "17", port))
    assert identity[1:5] == [registers.MAP_VERSION, 1, 6, 6]
    eventually(lambda: numbers(mbpoll("-t", "3", "-r", str(address("air_status")), port)) == [registers.SENSOR_OK])
    # mbpoll writes one register with function 06, several with 16.
    mbpoll("-t", "4", "-r", str(address("heartbeat_timeout_ms")), port, "10000", "4400", "6500", "1")
    mbpoll("-t", "4", "-r", str(address("heartbeat")), port, "77")
    mbpoll("-t", "4", "-r", str(address("zone_level_permille") + 1), port, "300")
    assert numbers(mbpoll("-t", "4", "-r", "0", "-c", "15", port))[:5] == [77, 0, 0, 0, 300]
    assert desk_board.lamps()[-1][1] == [0, 300, 0, 0, 0, 0, 0]
    live = numbers(mbpoll("-t", "3", "-r", str(LIVE[0]), "-c", str(LIVE[1]), port))
    assert live[:2] == [77, registers.LIT]
