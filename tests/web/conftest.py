"""A service over the real keeper, store, link, firmware and simulated chamber, in time that tests let pass."""

import asyncio
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from starlette.types import ASGIApp

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import Checkpoint, Exposure, Program, ZonePlan
from lampwarden.keeper import Keeper, Snapshot
from lampwarden.link.board import Board
from lampwarden.link.transport import WireTransport
from lampwarden.rehearsal import Rig
from lampwarden.rig.clock import VirtualClock
from lampwarden.rig.world import World
from lampwarden.service import Service
from lampwarden.store.store import Store
from lampwarden.store.writer import DirectWriter
from lampwarden.web.auth.people import People
from lampwarden.web.guard import Guard

from .one_api import api_of
from .served import Served

CHAMBER = Chamber(
    id="bench",
    title="Test bench",
    zones=(
        Zone(name="A1", bank=1, irradiance_w_m2=100.0),
        Zone(name="A2", bank=2, irradiance_w_m2=50.0),
        Zone(name="B1", bank=2, irradiance_w_m2=50.0),
    ),
)
# A1: 10 min at full light = 600 s = 6 J/cm2. A2: 3 J/cm2 at half level, from minute 2 = 600 s of full light.
PROGRAM = Program(
    title="Ferry timetable, bench trial",
    zones=(
        ZonePlan(zone="A1", exposures=(Exposure(start_s=0, end_s=600),)),
        ZonePlan(zone="A2", exposures=(Exposure(start_s=120, dose_j_cm2=3.0, level=0.5),)),
    ),
    checkpoints=(
        Checkpoint(name="baseline", at_s=0, look_at="The whole sheet, before any light."),
        Checkpoint(name="5 min", at_s=300),
        Checkpoint(name="20 min", at_s=1200, attended=False, pause_s=30),
    ),
)
WAIT_S = 20.0


class ReinedClock(VirtualClock):
    """Lets virtual time run up to a limit and no further; an order is still taken at once."""

    def __init__(self, world: World) -> None:
        super().__init__(world)
        self.limit_s = world.now_s
        self.parked = threading.Event()

    def wait(self, until_s: float, wake: threading.Event) -> None:
        while self.now_s() < until_s and not wake.is_set():
            to_s = min(until_s, self.limit_s)
            if self.now_s() < to_s:
                self._world.advance(to_s)
                continue
            self.parked.set()
            wake.wait(0.002)
        self.parked.clear()


class HeldWriter(DirectWriter):
    """The real writer, with a door that a test may shut: a disk that does not get on."""

    shut = False

    def flush(self) -> None:
        if not self.shut:
            super().flush()


class Bench:
    """One chamber, its keeper in its own thread."""

    def __init__(self, path: Path) -> None:
        self.rig = Rig.build(CHAMBER)
        self.world = self.rig.world
        self.world.advance(10.0)
        self.clock = ReinedClock(self.world)
        self.store = Store.open(path)
        self.daemon()

    def daemon(self) -> None:
        """A daemon over chamber and store; it takes up a session that has not ended."""
        self.writer = HeldWriter(self.store)
        self.keeper = Keeper(CHAMBER, Board(WireTransport(self.rig.wire)), self.clock, self.writer)
        self.service = Service(self.store, self.clock)
        self.service.add(self.keeper)

    def open(self) -> None:
        self.service.run()
        self.run(2)

    def run(self, seconds: float) -> Snapshot:
        """Lets virtual time pass; returns the snapshot at its end."""
        limit_s = max(self.clock.limit_s, self.world.now_s) + seconds
        self.clock.limit_s = limit_s
        end = time.monotonic() + WAIT_S
        while not (self.world.now_s >= limit_s and self.clock.parked.is_set()):
            assert time.monotonic() < end, "the keeper hangs"
            time.sleep(0.001)
        return self.service.snapshot(CHAMBER.id)

    def until(self, what: Callable[[Snapshot], bool], seconds_max: int = 4000) -> Snapshot:
        """Lets time pass, second by second, until something is so."""
        for _ in range(seconds_max):
            snapshot = self.run(1)
            if what(snapshot):
                return snapshot
        raise AssertionError(f"not within {seconds_max} s")

    def start(self, program: Program = PROGRAM) -> Snapshot:
        """A session at its first checkpoint, called."""
        self.service.start(CHAMBER.id, program, "Wilma")
        return self.until(lambda s: s.session is not None and s.session.waiting is not None, 10)

    def lit(self, program: Program = PROGRAM) -> Snapshot:
        """A session with light."""
        self.start(program)
        self.service.answer(CHAMBER.id, "baseline", "Wilma")
        return self.until(lambda s: any(s.board.live.zone_applied), 20)

    def close(self) -> None:
        self.service.close()
        self.store.close()


@pytest.fixture
def unopened(tmp_path: Path) -> Iterator[Bench]:
    """A bench whose keeper has not begun to run."""
    bench = Bench(tmp_path / "bench.db")
    yield bench
    bench.close()


@pytest.fixture
def bench(unopened: Bench) -> Bench:
    unopened.open()
    return unopened


class Asker:
    """A script that asks a web application in this process."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    def ask(self, method: str, path: str, **about: Any) -> httpx.Response:
        async def exchange() -> httpx.Response:
            transport = httpx.ASGITransport(self._app)
            async with httpx.AsyncClient(transport=transport, base_url="http://localhost:8470") as client:
                return await client.request(method, path, **about)

        return asyncio.run(exchange())

    def get(self, path: str, **about: Any) -> httpx.Response:
        return self.ask("GET", path, **about)

    def post(self, path: str, body: Any = None, **about: Any) -> httpx.Response:
        return self.ask("POST", path, json=body, **about)


@pytest.fixture
def api(bench: Bench) -> Asker:
    """The API as it is mounted, behind the guard."""
    app = FastAPI()
    app.mount("/api", api_of(bench.service))
    return Asker(Guard(app))


Serve = Callable[..., Served]


@pytest.fixture
def serve(bench: Bench, tmp_path: Path) -> Iterator[Serve]:
    started: list[Served] = []

    def start(people: People | None, *, must: bool = False, watchers_stop: bool = True) -> Served:
        started.append(Served(bench, tmp_path, people, must=must, watchers_stop=watchers_stop))
        return started[-1]

    yield start
    for each in started:
        each.close()
