"""Starts the desk board, the firmware on a real MicroPython, as a process behind a pty: a live board for tests.

Loaded by tests/conftest.py; tests use the `desk_board` fixture.
"""

import contextlib
import importlib.util
import json
import os
import pty
import signal
import subprocess
import sys
import termios
import time
import tty
from pathlib import Path

DEVICE = Path(__file__).parents[2] / "device"
MICROPYTHON = (sys.executable, "-m", "micropython_unix")
START_S = 10.0


def micropython_is_here() -> bool:
    return importlib.util.find_spec("micropython_unix") is not None


class DeskBoard:
    """A board process.

    port      path of the serial port a client opens
    lamp_log  file in which the board notes its true lamp levels
    process   the running process: `process.pid` is the board itself, so SIGKILL and SIGSTOP reach it
    """

    def __init__(self, folder: Path) -> None:
        self.lamp_log = folder / "lamps.txt"
        self._control_path = folder / "control.json"
        self._state_path = folder / "state.json"
        self.errors_path = folder / "stderr.txt"
        self._control: dict[str, object] = {}
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        self.port = os.ttyname(self._slave)
        self.process = self._start()

    def _start(self) -> subprocess.Popen[bytes]:
        boots = self._boots()
        with self.errors_path.open("ab") as errors:
            process = subprocess.Popen(
                [*MICROPYTHON, "-m", "lampboard.boards.desk"],
                stdin=self._master,
                stdout=self._master,
                stderr=errors,
                env={
                    **os.environ,
                    "MICROPYPATH": str(DEVICE),
                    "LAMPBOARD_CONTROL": str(self._control_path),
                    "LAMPBOARD_LOG": str(self.lamp_log),
                    "LAMPBOARD_STATE": str(self._state_path),
                },
            )
        deadline_s = time.monotonic() + START_S
        while self._boots() == boots:
            if process.poll() is not None or time.monotonic() > deadline_s:
                raise RuntimeError(f"the desk board did not start: {self.errors_path.read_text()}")
            time.sleep(0.01)
        return process

    def _boots(self) -> int:
        try:
            return int(json.loads(self._state_path.read_text())["boot_count"])
        except (OSError, ValueError):
            return 0

    def control(self, **changes: object) -> None:
        """Does something to the board: door_open, stop_pressed, crash, air_status, air_centi_c, bank_centi_c.

        None takes a change back. The board looks every 50 ms.
        """
        self._control = {key: value for key, value in {**self._control, **changes}.items() if value is not None}
        fresh = self._control_path.with_suffix(".new")
        fresh.write_text(json.dumps(self._control))
        fresh.replace(self._control_path)

    def lamps(self) -> list[tuple[int, list[int]]]:
        """(tick in ms, permille of each zone and of the inspection bank) of each change; ticks as time.monotonic()."""
        lines = [[int(word) for word in line.split()] for line in self.lamp_log.read_text().splitlines()]
        return [(line[0], line[1:]) for line in lines]

    def kill(self) -> None:
        """As a power cut: no time for anything."""
        self.process.kill()
        self.process.wait()

    def pause(self) -> None:
        self.process.send_signal(signal.SIGSTOP)

    def resume(self) -> None:
        self.process.send_signal(signal.SIGCONT)

    def restart(self) -> None:
        """Power back, after a power cut if it still runs. The port stays; what was sent meanwhile is gone."""
        self.kill()
        termios.tcflush(self._slave, termios.TCIOFLUSH)
        self.process = self._start()

    def close(self) -> None:
        with contextlib.suppress(ProcessLookupError):
            self.process.kill()
        self.process.wait()
        os.close(self._master)
        os.close(self._slave)
