"""Fixtures that several rooms' tests share."""

import importlib.util
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

HERE = Path(__file__).parent


def _load(name: str) -> ModuleType:
    """A helper file beside tests/lampboard, which is no package (its name is the firmware's)."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / "lampboard" / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


WAITING = ("processes", "commissioning")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Pages first, then all else in its order, with the files of rooms that mostly wait strewn among the others.

    Files go to the workers in this order: else all wait at the same time, and the longest come last.
    """
    files: dict[Path, list[pytest.Item]] = {}
    for item in items:
        files.setdefault(item.path, []).append(item)
    rooms = {path: path.relative_to(HERE).parts[0] for path in files}
    pages = [path for path in files if rooms[path] == "pages"]
    waiting = [path for path in files if rooms[path] in WAITING]
    order = [path for path in files if path not in pages and path not in waiting]
    apart = len(order) / len(waiting) if waiting else 0
    for number, path in reversed(list(enumerate(waiting))):
        order.insert(round(number * apart), path)
    items[:] = [item for path in pages + order for item in files[path]]


@pytest.fixture
def desk_boards(tmp_path: Path) -> Iterator[Callable[[], Any]]:
    """Starts live board processes on ptys, see tests/lampboard/desk_process.py: .port .control() .lamps() .kill()"""
    if sys.platform == "win32":
        pytest.skip("a pty is needed to start the desk board")
    desk_process = _load("desk_process")
    if not desk_process.micropython_is_here():
        pytest.skip("the MicroPython unix port has no package for this machine")
    boards: list[Any] = []

    def start() -> Any:
        folder = tmp_path / f"board-{len(boards)}"
        folder.mkdir()
        boards.append(desk_process.DeskBoard(folder))
        return boards[-1]

    yield start
    for board in boards:
        board.close()


@pytest.fixture
def desk_board(desk_boards: Callable[[], Any]) -> Any:
    """One live board process on a pty."""
    return desk_boards()
