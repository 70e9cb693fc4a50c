"""Daemons and boards that end with the test."""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from .daemon import Daemon, write_chamber


@pytest.fixture
def tell(record_property: Callable[[str, object], None]) -> Callable[..., None]:
    """Notes figures that were measured: in the report's file, and on the screen with `-s`."""

    def say(**figures: object) -> None:
        for name, value in figures.items():
            record_property(name, value)
        sys.stdout.write(f"\n{figures}\n")

    return say


@pytest.fixture
def daemon_for(tmp_path: Path) -> Iterator[Callable[..., Daemon]]:
    """Makes a daemon for serial ports, by chamber id: not started yet, killed after the test."""
    made: list[Daemon] = []

    def make(before: tuple[str, ...] = (), **ports: str) -> Daemon:
        files = [write_chamber(tmp_path, chamber_id, port) for chamber_id, port in ports.items()]
        made.append(Daemon(tmp_path, files, before))
        return made[-1]

    yield make
    for daemon in made:
        daemon.close()


@pytest.fixture
def daemon(desk_board: Any, daemon_for: Callable[..., Daemon]) -> Daemon:
    """A daemon minding one desk board, as chamber `bench`; not started yet."""
    return daemon_for(bench=desk_board.port)
