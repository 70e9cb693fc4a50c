"""A keeper over the real store, link, firmware and simulated chamber, in virtual time, turned by hand."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import Program
from lampwarden.engine import Session
from lampwarden.keeper import Keeper, Snapshot
from lampwarden.link.board import Board
from lampwarden.link.transport import WireTransport
from lampwarden.rehearsal import Rig
from lampwarden.service import Service
from lampwarden.store.store import Store
from lampwarden.store.writer import DirectWriter

CHAMBER = Chamber(
    id="bench",
    zones=(Zone(name="left", irradiance_w_m2=100.0), Zone(name="right", bank=2, irradiance_w_m2=50.0)),
)


class HeldWriter(DirectWriter):
    """The real writer, with a door that a test may shut: a disk that does not get on."""

    shut = False

    def flush(self) -> None:
        if not self.shut:
            super().flush()


class Bench:
    """One chamber with its keeper. `turn` is one control period."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.rig = Rig.build(CHAMBER)
        self.world = self.rig.world
        self.world.advance(10.0)
        self.open()

    def open(self) -> None:
        """A new daemon over the same board and file."""
        self.store = Store.open(self.path)
        self.writer = HeldWriter(self.store)
        self.keeper = Keeper(CHAMBER, Board(WireTransport(self.rig.wire)), self.rig.clock, self.writer)
        self.service = Service(self.store, self.rig.clock)
        self.service.add(self.keeper)

    def die(self) -> None:
        """The daemon is gone between two instructions: nothing is flushed, nothing is darkened."""
        self.store.close()

    def turn(self, turns: int = 1) -> Snapshot:
        for _ in range(turns):
            self.keeper.turn()
            self.world.advance(self.world.now_s + 1.0)
        return self.keeper.snapshot

    def until(self, what: Callable[[Snapshot], bool], turns_max: int = 20000) -> Snapshot:
        for _ in range(turns_max):
            snapshot = self.turn()
            if what(snapshot):
                return snapshot
        raise AssertionError(f"not within {turns_max} turns; session: {self.keeper.snapshot.session}")

    def start(self, program: Program) -> Snapshot:
        """Begins a session as Service.start does, in this thread."""
        if self.keeper.snapshot.board.live is None:
            self.turn()
        utc = self.keeper.snapshot.utc
        data = program.model_dump(mode="json", by_alias=True, exclude_none=True)
        self.store.begin_session("s-1", CHAMBER.id, program.title, data, CHAMBER.model_dump(mode="json"), utc)
        begun = self.keeper.start("s-1", program, "a test", utc)
        self.turn()
        if not begun.done():
            self.turn()  # the disk is a little late
        begun.result(timeout=0)
        return self.keeper.snapshot

    @property
    def session(self) -> Session:
        session = self.keeper.snapshot.session
        assert session is not None
        return session

    @property
    def true_levels(self) -> tuple[int, ...]:
        """What the simulated lamps really do now, permille."""
        return tuple(self.world.truth.zone_permille[: len(CHAMBER.zones)])

    def true_lit_s(self, zone: int) -> float:
        return self.world.truth.lit_s(zone)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path / "lampwarden.db")
    yield bench
    bench.store.close()
