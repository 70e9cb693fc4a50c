"""A board on the bench: MicroPython's unix port behind a pty, with a folder for its flash.

Like a real one it boots into the firmware if main.py is there, else to the prompt; service mode gives the prompt once;
a restart boots again. The prompt, the files and the hashes are MicroPython's own. What is not as on a board: main.py
itself is not run (the unix port has no pins; tests/lampboard/pico_pins.py does that), `lampboard.boards.desk` is
started from the flash instead, and the port does not vanish while it boots.
"""

import json
import os
import pty
import subprocess
import sys
import termios
import threading
import time
import tty
from pathlib import Path

MICROPYTHON = (sys.executable, "-m", "micropython_unix")


class BenchBoard:
    """`flash` is the board's folder, `device` the port, `boots` what was started, in order: "prompt" or "firmware"."""

    def __init__(self, folder: Path) -> None:
        self.flash = folder / "flash"
        self.flash.mkdir()
        self.control_path, self.lamp_log = folder / "control.json", folder / "lamps.txt"
        self._env = {
            **os.environ,
            "MICROPYPATH": str(self.flash),
            "LAMPBOARD_CONTROL": str(self.control_path),
            "LAMPBOARD_LOG": str(self.lamp_log),
            "LAMPBOARD_STATE": str(folder / "state.json"),
        }
        self._errors = folder / "stderr.txt"
        self._near, self._far = pty.openpty()
        tty.setraw(self._far)
        self.device = os.ttyname(self._far)
        self.address = f"serial:{self.device}"
        self.boots: list[str] = []
        self.process: subprocess.Popen[bytes] | None = None
        self._off, self._on = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._live)
        self._thread.start()
        self._on.wait(10)

    def _live(self) -> None:
        served = False
        while not self._off.is_set():
            firmware = (self.flash / "main.py").exists() and not served
            self.boots.append("firmware" if firmware else "prompt")
            termios.tcflush(self._far, termios.TCOFLUSH)  # a reset loses what was sent to the board
            with self._errors.open("ab") as errors:
                self.process = subprocess.Popen(
                    [*MICROPYTHON, *(["-m", "lampboard.boards.desk"] if firmware else [])],
                    stdin=self._near,
                    stdout=self._near,
                    stderr=errors,
                    cwd=self.flash,
                    env=self._env,
                )
            self._on.set()
            ended = self.process.wait()
            served = firmware and ended == 0
            if ended:
                time.sleep(0.05)

    def power_cycle(self) -> None:
        """Power off and on again."""
        assert self.process is not None
        self.process.kill()

    def control(self, **changes: object) -> None:
        """See lampboard/boards/desk.py."""
        fresh = self.control_path.with_suffix(".new")
        fresh.write_text(json.dumps(changes))
        fresh.replace(self.control_path)

    def close(self) -> None:
        self._off.set()
        assert self.process is not None
        self.process.kill()
        self._thread.join()
        os.close(self._near)
        os.close(self._far)
