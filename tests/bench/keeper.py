"""Is the keeper held up? Heartbeats under load against heartbeats at rest, in one run.

`python -m tests.bench.keeper [SECONDS]` prints the figures. The load: 20 visitors with live pages who poll the API and
write notes, a 24 megapixel photo decoded again and again in a process pool, a disk that needs 300 ms for each commit.
The board is the firmware on a real MicroPython behind a pty, and its lamps are lit.
"""

import json
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import httpx

from lampwarden.keeper.keeper import HEARTBEAT_TIMEOUT_S, PERIOD_S

from . import photo

ROOT = Path(__file__).parents[2]
VISITORS = 20
SLOW_S = 0.3
SETTLE_S = 2.0
LATE_S_MAX = HEARTBEAT_TIMEOUT_S / 3
"""A heartbeat may come this much later than its period: a further third is left before the lamps go dark."""
CHAMBER = """\
id = "bench"
board = "serial:{port}"
inspection = false
zones = [
  {{ name = "A1", bank = 1, irradiance_w_m2 = 100 }},
  {{ name = "A2", bank = 2, irradiance_w_m2 = 100 }},
  {{ name = "A3", bank = 6, irradiance_w_m2 = 100 }},
]
"""
PROGRAM = """
title = "Load"
zones = [
  { zone = "A1", exposures = [{ end = "1 h" }] },
  { zone = "A2", exposures = [{ end = "1 h" }] },
  { zone = "A3", exposures = [{ end = "1 h" }] },
]
"""


@dataclass(frozen=True)
class Spell:
    """Heartbeats over some time."""

    heartbeats: int
    longest_gap_s: float
    late_s: float
    """How much later than its period the latest heartbeat came, s."""


@dataclass(frozen=True)
class Report:
    rest: Spell
    load: Spell
    ratio: float
    """Longest gap under load over longest gap at rest."""
    photos: int
    visitors: dict[str, Any]
    lamps_stayed_lit: bool


def spell(heartbeats_s: list[float]) -> Spell:
    """From instants of heartbeats, s; at least two."""
    longest_s = max(later - earlier for earlier, later in pairwise(heartbeats_s))
    return Spell(len(heartbeats_s), round(longest_s, 4), round(longest_s - PERIOD_S, 4))


class Process:
    """A module of this folder as a process that takes lines and gives lines."""

    def __init__(self, module: str, *words: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", f"tests.bench.{module}", *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
        )

    def line(self) -> str:
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        assert line, f"it ended with {self._process.wait()}"
        return line.strip()

    def tell(self, command: str) -> Any:
        assert self._process.stdin is not None
        self._process.stdin.write(command + "\n")
        self._process.stdin.flush()
        return json.loads(self.line())

    def hang_up(self) -> None:
        assert self._process.stdin is not None
        self._process.stdin.close()

    def close(self) -> None:
        self.hang_up()
        try:
            self._process.wait(20)
        finally:
            self._process.kill()
            self._process.wait()
            assert self._process.stdout is not None
            self._process.stdout.close()


def measure(board: Any, folder: Path, seconds: float) -> Report:
    """At rest for some seconds, then under load for as long. `board`: a live desk board."""
    chamber, picture = folder / "chamber.toml", folder / "photo.jpg"
    chamber.write_text(CHAMBER.format(port=board.port))
    photo.make(picture)
    daemon = Process("loaded_daemon", str(chamber), str(folder / "lampwarden.db"), str(picture))
    try:
        address = daemon.line()
        _begin(address)
        _until(lambda: board.lamps()[-1][1][0] == 1000)
        lit_changes = len(board.lamps())
        time.sleep(SETTLE_S)
        daemon.tell("heartbeats")
        time.sleep(seconds)
        rest = spell(daemon.tell("heartbeats"))

        daemon.tell(f"slow {SLOW_S}")
        daemon.tell("photos on")
        time.sleep(SETTLE_S)
        daemon.tell("photos on")
        daemon.tell("heartbeats")
        visitors = Process("visitors", address, "bench", str(VISITORS))
        try:
            assert visitors.line() == "here"  # their coming is part of the load
            time.sleep(seconds)
            heartbeats_s, photos = daemon.tell("heartbeats"), daemon.tell("photos off")
            visitors.hang_up()
            seen = json.loads(visitors.line())
        finally:
            visitors.close()
        load = spell(heartbeats_s)
        stayed_lit = len(board.lamps()) == lit_changes
    finally:
        daemon.close()
    return Report(rest, load, round(load.longest_gap_s / rest.longest_gap_s, 3), photos, seen, stayed_lit)


def _begin(address: str) -> None:
    def begun() -> bool:
        answer = httpx.post(f"{address}/api/chambers/bench/start", json={"by": "bench", "toml": PROGRAM}, timeout=20)
        assert answer.status_code in (201, 409), answer.text
        return answer.status_code == 201

    _until(begun)


def _until(check: Any, limit_s: float = 20.0) -> None:
    deadline_s = time.monotonic() + limit_s
    while not check():
        assert time.monotonic() < deadline_s, "it did not come to pass"
        time.sleep(0.1)


def main() -> None:
    from ..lampboard.desk_process import DeskBoard

    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 30.0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        board = DeskBoard(folder)
        try:
            report = measure(board, folder, seconds)
        finally:
            board.close()
    sys.stdout.write(json.dumps(asdict(report), indent=2) + "\n")
    sys.exit(0 if report.load.late_s < LATE_S_MAX and report.lamps_stayed_lit else 1)


if __name__ == "__main__":
    main()
