"""A keeper that stands is noticed: by the health address, and by its turns. Everything real, on the real clock."""

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from tests.service.conftest import until
from tests.web.conftest import CHAMBER, Asker

from lampwarden.keeper import Keeper, RealClock
from lampwarden.link.board import Board
from lampwarden.link.transport import open_transport
from lampwarden.rig.design import RigDesign
from lampwarden.rig.served import serve_tcp
from lampwarden.rig.world import World
from lampwarden.service import Service, turns
from lampwarden.service.turns import Turns
from lampwarden.store.store import Store
from lampwarden.store.writer import ThreadWriter
from lampwarden.web.api import create_api

STANDS_S = 3.0


class Standing:
    """A service over a served board, whose keeper can be made to stand: what it calls at each turn does not return."""

    def __init__(self, folder: Path, address: str) -> None:
        self.store, clock = Store.open(folder / "lampwarden.db"), RealClock()
        self.writer = ThreadWriter(self.store)
        self.goes = threading.Event()
        self.goes.set()
        self.service = Service(self.store, clock)
        self.keeper = Keeper(CHAMBER, Board(open_transport(address)), clock, self.writer)
        self.service.add(self.keeper, lambda snapshot: self.goes.wait() and None)
        app = FastAPI()
        app.mount("/api", create_api(self.service))
        self.api = Asker(app)

    def health(self) -> int:
        return self.api.get("/api/health").status_code

    def close(self) -> None:
        self.goes.set()
        self.service.close()
        self.writer.close()
        self.store.close()


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Standing]:
    monkeypatch.setattr(turns, "STANDS_S", STANDS_S)
    with serve_tcp(World(RigDesign(), 1, CHAMBER)) as served:
        scene = Standing(tmp_path, served.address)
        yield scene
        scene.close()


def test_a_keeper_that_stands_is_unhealthy_until_it_turns_again(scene: Standing) -> None:
    assert scene.health() == 503  # nobody minds the chamber yet
    scene.service.run()
    until(lambda: scene.keeper.snapshot.board.live is not None)
    assert scene.health() == 200
    scene.goes.clear()
    began_s = time.monotonic()
    until(lambda: scene.health() == 503)
    assert time.monotonic() - began_s > STANDS_S - 1.5
    assert scene.service.turns(CHAMBER.id)[1] > STANDS_S
    scene.goes.set()
    until(lambda: scene.health() == 200)
    assert scene.service.turns(CHAMBER.id)[0].longest_gap_s > STANDS_S


def test_turns_are_counted() -> None:
    seen = Turns(100.0)
    for now_s, answered in ((103.0, True), (104.0, False), (106.5, True), (107.5, True)):
        seen = seen.after(now_s, answered=answered)
    assert seen == Turns(107.5, count=4, longest_gap_s=2.5, unanswered=1)  # to be started is no gap
    assert seen.gap_s(109.0) == 1.5
    assert not seen.stands(117.0)
    assert seen.stands(118.0)
