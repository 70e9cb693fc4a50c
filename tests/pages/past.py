"""A chamber whose sessions were long ago: its clock is put to where something happened. And a dashboard over it."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import FastAPI
from pydantic import BaseModel

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.program_file import parse, parse_as
from lampwarden.domain.sheet import Sheet
from lampwarden.keeper import Keeper
from lampwarden.rehearsal import MemoryWriter, Rig
from lampwarden.service import Service
from lampwarden.store import Store
from lampwarden.web.app import create_app

SCENARIO = Path(__file__).parents[2] / "host" / "lampwarden" / "rig" / "scenario"
NOTICE = "Simulated chamber: everything shown is invented."
BEGAN = datetime(2031, 3, 3, 8, 0, tzinfo=UTC)


@contextmanager
def served(app: FastAPI) -> Iterator[str]:
    """A server in a thread of its own; gives its address."""
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="warning", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        thread.join(0.02)
    yield f"http://localhost:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join(5)


class Past:
    """The scenario's chamber, program and sheet, and a store for what happened there."""

    def __init__(self, folder: Path, title: str = "Demo chamber") -> None:
        chamber = parse_as(Chamber, (SCENARIO / "chamber.toml").read_text(encoding="utf-8"), "chamber.toml")
        self.chamber = chamber.model_copy(update={"title": title})
        self.program = parse((SCENARIO / "ferry_timetable.toml").read_text(encoding="utf-8"))
        self.sheet = parse_as(Sheet, (SCENARIO / "sheet.toml").read_text(encoding="utf-8"), "sheet.toml")
        self.store = Store.open(folder / "lampwarden.db")
        rig = Rig.build(self.chamber, self.program, seed=1)
        self._clock = rig.clock
        self._clock.speed = 1.0
        self.service = Service(self.store, self._clock)
        self.service.add(Keeper(self.chamber, rig.board, self._clock, MemoryWriter()))

    def at(self, hours: float) -> str:
        """Puts the clock so long after the beginning; returns the time."""
        self._clock.utc_shift = BEGAN + timedelta(hours=hours) - (self._clock.utc() - self._clock.utc_shift)
        return f"{(BEGAN + timedelta(hours=hours)).strftime('%Y-%m-%dT%H:%M:%S')}.000Z"

    def show(self, line: Connection) -> None:
        """Opens its dashboard, says the address, and ends when the line is closed."""
        self.service.run()
        with served(create_app(self.service, notice=NOTICE)) as address:
            line.send(address)
            line.poll(None)
        self.service.close()


def as_json(model: BaseModel) -> dict[str, Any]:
    return model.model_dump(mode="json", by_alias=True, exclude_none=True)
