"""Fixtures that several rooms' tests share."""

import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest


def _load(name: str) -> ModuleType:
    """A helper file beside tests/lampboard, which is no package (its name is the firmware's)."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / "lampboard" / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


@pytest.fixture
def desk_board(tmp_path: Path) -> Iterator:
    """A live board process on a pty, see tests/lampboard/desk_process.py: .port .control() .lamp_log .kill() ..."""
    if sys.platform == "win32":
        pytest.skip("a pty is needed to start the desk board")
    desk_process = _load("desk_process")
    if not desk_process.micropython_is_here():
        pytest.skip("the MicroPython unix port has no package for this machine")
    board = desk_process.DeskBoard(tmp_path)
    yield board
    board.close()
