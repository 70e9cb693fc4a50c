"""Commissioning over real ports: the rig on a pty, the commands as processes, the firmware on MicroPython."""

import os
import select
import signal
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import pytest
from tests.command import LAMPWARDEN

from lampboard.node import FIRMWARE_VERSION
from lampwarden.bench import papers, steps
from lampwarden.bench.check import commission
from lampwarden.bench.console import Console
from lampwarden.bench.dialogue import Question
from lampwarden.bench.driver import Driver
from lampwarden.bench.firmware import firmware
from lampwarden.bench.prompt import BoardPrompt
from lampwarden.bench.steps import Bench
from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.errors import BoardSilent
from lampwarden.keeper import RealClock
from lampwarden.link.board import Board, Demand, version_text
from lampwarden.link.ports import probe
from lampwarden.link.transport import open_transport
from lampwarden.rig.design import RigDesign
from lampwarden.rig.served import serve_pty
from lampwarden.rig.world import World

from .hands import Hands

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="needs a pty and the MicroPython unix port")
if sys.platform == "linux":
    from .bench_board import BenchBoard

PICO_PINS = Path(__file__).parents[1] / "lampboard" / "pico_pins.py"
VERSION = version_text(FIRMWARE_VERSION)
CHAMBER = Chamber(
    title="Chamber on a port", zones=tuple(Zone(name=f"Z{n}", bank=1 + n, irradiance_w_m2=80.0) for n in range(2))
)
SPEED = 5.0  # the heartbeat timeout is then 0.6 s of real time: enough for a busy machine


# --- the rig on a pty -------------------------------------------------------------------------------------------------
class WorldClock(RealClock):
    """The served world's time, as a quick person would feel it."""

    def __init__(self, world: World) -> None:
        self.world = world

    def now_s(self) -> float:
        return self.world.now_s

    def wait(self, until_s: float, wake: threading.Event) -> None:
        while (left_s := until_s - self.world.now_s) > 0:
            wake.wait(max(0.002, left_s / SPEED))


class HangingWorld:
    """Stalls the served firmware with a zone lit, as the prompt of a real board does."""

    def __init__(self, world: World) -> None:
        self.world = world

    def stall(self, zone: int, level: float) -> str | None:
        with self.world.lock:
            self.world.board.set_zone(zone, round(1000 * level))
            self.world.hang()
        return None


@pytest.fixture
def world() -> World:
    world = World(RigDesign(), 1, CHAMBER)
    world.advance(10.0)
    return world


def outcomes_on_a_pty(world: World, which: tuple[steps.Step, ...] = steps.STEPS) -> dict[str, str]:
    with serve_pty(world, SPEED) as served:
        driver = Driver(Board(open_transport(served.address)), Hands(world), WorldClock(world), HangingWorld(world))
        draft = driver.run(commission(Bench(VERSION, CHAMBER), steps=which))
        assert served.trouble is None
        assert world.truth.dark
    assert draft is not None
    return {step.key: f"{step.outcome}: {step.text}" for step in draft.steps}


def test_a_good_board_passes_on_a_pty(world: World) -> None:
    found = outcomes_on_a_pty(world)
    assert {key: text for key, text in found.items() if not text.startswith("passed")} == {}
    assert len(found) == len(steps.STEPS)


def test_a_board_that_does_not_trip_is_found_on_a_pty(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    from lampboard import guard

    monkeypatch.setattr(guard, "TRIP_RULES", tuple(row for row in guard.TRIP_RULES if row[0] != "bank_over"))
    shorter = tuple(step for step in steps.STEPS if not step.lit or step.key in ("zones", "bank_limit"))
    found = outcomes_on_a_pty(world, shorter)
    assert [key for key, text in found.items() if not text.startswith("passed")] == ["bank_limit"]
    assert "It does not protect" in found["bank_limit"]


# --- the commands as processes ----------------------------------------------------------------------------------------
def converse(process: "subprocess.Popen[bytes]", hands: Hands, limit_s: float = 60.0) -> str:
    """Answers a command's questions as the hands do, until it ends; returns all it said."""
    assert process.stdin is not None
    assert process.stdout is not None
    said, fresh, end_s = "", "", time.monotonic() + limit_s
    while time.monotonic() < end_s:
        if select.select([process.stdout], [], [], 0.2)[0]:
            piece = os.read(process.stdout.fileno(), 4096).decode()
            if not piece:
                return said
            said, fresh = said + piece, fresh + piece
        if fresh.endswith("> "):
            hands.ask(Question(fresh.rstrip().splitlines()[-2] if "[" in fresh.splitlines()[-1] else fresh))
            fresh, answer = "", hands.answer()
            if answer is not None:
                process.stdin.write(f"{answer}\n".encode())
                process.stdin.flush()
    raise AssertionError(f"the command did not end: {said}")


def test_the_command_walks_a_person_through_and_writes_what_they_signed(world: World, tmp_path: Path) -> None:
    hands = Hands(world)
    hands.spoilt |= {"Hold the sensor": lambda: "x", "What now?": lambda: "s", "Notes": lambda: "bank 1 has no sensor"}
    chamber = tmp_path / "chamber.toml"
    chamber.write_text(
        'title = "Named chamber"\nzones = [{ name = "Z0", bank = 1, irradiance_w_m2 = 80 },'
        ' { name = "Z1", bank = 2, irradiance_w_m2 = 80 }]\n'
    )
    with serve_pty(world) as served:
        command = [*LAMPWARDEN, "board", "check", served.address, "--chamber", str(chamber), "--data", str(tmp_path)]
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        said = converse(process, hands)
        assert process.wait(timeout=10) == 1, said
    record = papers.newest(tmp_path, world.board.unique_id.hex()).commissioning
    assert record is not None
    assert (record.by, record.chamber, record.notes) == ("A. Tester", "Named chamber", "bank 1 has no sensor")
    assert [step.outcome for step in record.steps][:4] == ["passed", "passed", "failed", "not done"]
    assert "Sessions stay refused" in said
    assert "No bank rose" in next((tmp_path / "boards").rglob("commissioning-*.txt")).read_text()
    assert world.truth.dark


def test_a_person_who_leaves_ends_the_command_dark_and_without_a_record(world: World, tmp_path: Path) -> None:
    with serve_pty(world) as served:
        done = subprocess.run(
            [*LAMPWARDEN, "board", "check", served.address, "--data", str(tmp_path)],
            stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=30, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert "Stopped. All lamps dark; nothing was recorded." in done.stdout
    assert not (tmp_path / "boards").exists()


def test_an_address_that_is_no_serial_port_has_no_prompt(tmp_path: Path) -> None:
    done = subprocess.run(
        [*LAMPWARDEN, "board", "install", "--port", "tcp:127.0.0.1:1", "--data", str(tmp_path)],
        capture_output=True, text=True, timeout=30, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "is no serial port" in done.stderr


# --- the firmware and the prompt of MicroPython -----------------------------------------------------------------------
@pytest.fixture
def board(tmp_path: Path) -> Iterator["BenchBoard"]:
    pytest.importorskip("micropython_unix", reason="the MicroPython unix port has no package for this machine")
    board = BenchBoard(tmp_path)
    yield board
    board.close()


def put_firmware(board: "BenchBoard", platform: str = "linux") -> None:
    """Puts the files into the flash by hand, and powers up."""
    for path, content in firmware(platform).items():
        file = board.flash / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)
    board.power_cycle()


def test_an_install_killed_at_any_moment_is_finished_by_the_same_command(board: "BenchBoard", tmp_path: Path) -> None:
    command = [*LAMPWARDEN, "board", "install", "--port", board.device, "--data", str(tmp_path / "data")]

    def whole() -> int:
        return len(list(board.flash.rglob("*.py")))

    wanted = firmware("linux")
    half_done = []
    for after_s in (0.0, 0.004, 0.01):  # from the moment another file is whole
        before = whole()
        process = subprocess.Popen(command, stdout=subprocess.PIPE)
        end_s = time.monotonic() + 15
        while whole() == before:
            assert time.monotonic() < end_s
            time.sleep(0.001)
        time.sleep(after_s)
        process.kill()
        process.communicate()
        half_done.append(whole())
        assert not (board.flash / "main.py").exists(), "a half-installed board must not start"
        for path in board.flash.rglob("*.py"):
            assert path.read_bytes() == wanted[path.relative_to(board.flash).as_posix()], "no torn file has a name"
    assert set(board.boots) == {"prompt"}
    assert 0 < half_done[0] < half_done[-1] < len(wanted)
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"Firmware {VERSION} answers" in done.stdout
    there = {path.relative_to(board.flash).as_posix(): path for path in board.flash.rglob("*") if path.is_file()}
    assert {path: file.read_bytes() for path, file in there.items()} == wanted
    assert papers.newest(tmp_path / "data", probe(board.address).unique_id).installed is not None


class DeskHands:
    """The person at a desk board: moves its switches by its control file, sees its lamps by its log."""

    def __init__(self, board: "BenchBoard") -> None:
        self.board = board
        self.set: dict[str, object] = {}
        self._next: str | None = None

    def tell(self, text: str) -> None: ...

    def answer(self) -> str | None:
        return self._next

    def lamps(self) -> list[int]:
        return [int(word) for word in self.board.lamp_log.read_text().splitlines()[-1].split()[1:]]

    def ask(self, question: Question) -> None:
        text, self._next = question.text, None
        for words, change in (
            ("pen the door", {"door_open": True}),
            ("Close the door.", {"door_open": False}),
            ("Press the stop", {"stop_pressed": True}),
            ("Release the stop", {"stop_pressed": False}),
        ):
            if words in text and "EYES" not in text:
                self.set |= change
                self.board.control(**self.set)
                return
        if "One zone glows" in text:
            lit = [number for number, level in enumerate(self.lamps(), start=1) if level]
            self._next = str(lit[0]) if len(lit) == 1 else "n"
        elif "white bank glow" in text:
            self._next = "y" if self.lamps()[-1] and not any(self.lamps()[:-1]) else "n"
        elif "is the chamber dark" in text:
            self._next = "n" if any(self.lamps()) else "y"
        else:
            self._next = question.choices[0][0]


class StoppedProcess:
    """Stalls the desk board as a real stall would: lit, then stopped for longer than its watchdog allows."""

    def __init__(self, board: "BenchBoard", link: Board, zone_count: int) -> None:
        self.board, self.link, self.zone_count = board, link, zone_count

    def stall(self, zone: int, level: float) -> str | None:
        self.link.arm()
        self.link.exchange(Demand(tuple(level if zone == index else 0.0 for index in range(self.zone_count))))
        process = self.board.process
        assert process is not None
        process.send_signal(signal.SIGSTOP)
        time.sleep(4.3)  # desk.WATCHDOG_MS
        lines = len(self.board.lamp_log.read_text().splitlines())
        process.send_signal(signal.SIGCONT)
        end_s = time.monotonic() + 10
        while len(self.board.lamp_log.read_text().splitlines()) < lines + 2:  # darkened, and booted
            assert time.monotonic() < end_s
            time.sleep(0.01)
        return None


def test_the_firmware_on_micropython_goes_through_every_step_but_the_sensors(board: "BenchBoard") -> None:
    """Air and plates of the desk board cannot be breathed on or touched; the rest can."""
    put_firmware(board)
    link = Board(open_transport(board.address))
    end_s = time.monotonic() + 10
    while board.boots[-1] != "firmware" or not board.lamp_log.exists():
        assert time.monotonic() < end_s
        time.sleep(0.02)
    hands = DeskHands(board)
    driver = Driver(link, hands, RealClock(), StoppedProcess(board, link, 6))
    bench = Bench(VERSION, None, zone_order=(4, 0))
    for step in steps.STEPS:
        if step.key not in ("air", "banks"):
            driver.run(step.run(bench))  # raises Fault or NotDone
    assert bench.identity.reset_cause == "watchdog"
    assert not any(hands.lamps())


def test_a_board_without_a_hardware_watchdog_says_so_and_runs_on(board: "BenchBoard") -> None:
    put_firmware(board)
    end_s = time.monotonic() + 10
    while board.boots[-1] != "firmware":
        assert time.monotonic() < end_s
        time.sleep(0.02)
    link = Board(open_transport(board.address))
    before = link.identify()
    assert "no hardware watchdog" in (BoardPrompt(link, board.device).stall(0, 0.05) or "")
    end_s = time.monotonic() + 10
    while True:
        try:
            after = probe(board.address)
            break
        except BoardSilent:
            assert time.monotonic() < end_s
    assert after.boot_count == before.boot_count + 1
    assert board.boots[-3:] == ["firmware", "prompt", "firmware"]
    assert "out of reach" in (BoardPrompt(link, None).stall(0, 0.05) or "")


def test_the_stall_lights_a_zone_and_leaves_it_to_the_watchdog(board: "BenchBoard") -> None:
    """The very code sent to a board, run by MicroPython over pins that note what is done to them."""
    put_firmware(board, "rp2")
    (board.flash / "main.py").unlink()
    (board.flash / "pico_pins.py").write_bytes(PICO_PINS.read_bytes())
    board.power_cycle()
    with Console(board.device) as console:
        console.run("import pico_pins")  # from now on `machine` is the one with pins
        assert not console.stall(0, 50, wait_s=0.5)
    with Console(board.device) as console:
        seen = console.run(
            "from lampboard.boards import pico\n"
            "print(pico_pins.levels[pico.ZONE_PINS[0]], pico_pins.levels[pico.ENABLE_PIN],"
            " pico_pins.started['watchdog'], pico_pins.noted.count(('fed',)), pico_pins.noted[-1])"
        )
        assert seen.split() == [str(50 * 65535 // 1000), "1", "2000", "0", "('reset',)"]
        cause = console.run("pico_pins.started['cause'] = 3\nprint(pico.State().reset_cause())")
        assert int(cause) == 2, "the boot after it must name the watchdog"


def test_the_package_carries_every_firmware_file(tmp_path: Path) -> None:
    pytest.importorskip("hatchling")
    root = Path(__file__).parents[2]
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=root, capture_output=True, check=True,
    )  # fmt: skip
    (wheel,) = tmp_path.glob("*.whl")
    zipfile.ZipFile(wheel).extractall(tmp_path / "site")
    code = (
        "from lampwarden.bench import firmware; import hashlib;"
        "print(firmware.__file__);"
        "print({path: hashlib.sha256(data).hexdigest() for path, data in firmware.firmware('rp2').items()})"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True,
        env=os.environ | {"PYTHONPATH": str(tmp_path / "site")},
    )  # fmt: skip
    where, hashes = done.stdout.splitlines()
    assert where.startswith(str(tmp_path))
    assert hashes == str({path: sha256(content).hexdigest() for path, content in firmware("rp2").items()})
