"""A simulated chamber on a real socket, real daemon processes that mind it, and an ear like systemd's."""

import json
import os
import re
import socket
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.command import Begun

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.rig.design import RigDesign
from lampwarden.rig.served import Served, serve_tcp
from lampwarden.rig.world import World
from lampwarden.store import Batch, Line, Store

CHAMBER = Chamber(id="bench", zones=(Zone(name="A1", irradiance_w_m2=80.0), Zone(name="A2", irradiance_w_m2=80.0)))
PATIENCE_S = 30.0
"""How long anything real may take on a busy machine, s."""


def until(what: Callable[[], Any], about: str) -> Any:
    """Waits for a true value."""
    deadline_s = time.monotonic() + PATIENCE_S
    while not (value := what()):
        assert time.monotonic() < deadline_s, f"never came: {about}"
        time.sleep(0.02)
    return value


class Ear:
    """The socket of a supervisor."""

    def __init__(self, address: str) -> None:
        self.address = address
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind("\0" + address[1:] if address.startswith("@") else address)
        self._socket.settimeout(PATIENCE_S)

    def hear(self) -> str:
        return self._socket.recv(4096).decode()

    def is_quiet_for(self, seconds: float) -> bool:
        self._socket.settimeout(seconds)
        try:
            self._socket.recv(4096)
        except TimeoutError:
            return True
        finally:
            self._socket.settimeout(PATIENCE_S)
        return False

    def close(self) -> None:
        self._socket.close()


@pytest.fixture(params=["path"])
def ear(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Ear]:
    if not hasattr(socket, "AF_UNIX"):
        pytest.skip("no Unix sockets here")
    ear = Ear(str(tmp_path / "notify") if request.param == "path" else f"@lampwarden-test-{os.getpid()}")
    yield ear
    ear.close()


class Daemon:
    """`lampwarden serve` as a process."""

    def __init__(self, data: Path, chamber: Path, **environ: str) -> None:
        self._out = data.parent / f"said-{time.monotonic_ns()}.txt"
        self._out.touch()
        words = ["serve", str(chamber), "--uncommissioned", "--data", str(data), "--port", "0"]
        self.process = Begun(words, self._out, **environ)
        while not (found := re.search(r"Dashboard: (\S+)\s", self.said)):
            assert self.process.poll() is None, f"the daemon ended: {self.said}"
            time.sleep(0.02)
        self.address = found[1]

    @property
    def said(self) -> str:
        """Everything it said."""
        return self._out.read_text()

    def ask(self, path: str, body: dict[str, Any] | None = None) -> Any:
        """An API call; waits for the server to come up."""
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(f"{self.address}api/{path}", data, {"content-type": "application/json"})
        deadline_s = time.monotonic() + PATIENCE_S
        while True:
            try:
                with urllib.request.urlopen(request, timeout=20) as answer:
                    return json.loads(answer.read() or "null")
            except ConnectionError:
                raise
            except urllib.error.HTTPError as error:
                raise AssertionError(error.read().decode()) from None
            except OSError:
                assert time.monotonic() < deadline_s, "the page never answered"
                time.sleep(0.05)

    def end(self) -> str:
        """Everything it said."""
        self.process.kill()
        self.process.wait(20)
        return self.said


@pytest.fixture
def world() -> World:
    return World(RigDesign(), 1, CHAMBER)


@pytest.fixture
def served(world: World) -> Iterator[Served]:
    with serve_tcp(world) as served:
        yield served


@pytest.fixture
def chamber_file(served: Served, tmp_path: Path) -> Path:
    file = tmp_path / "bench.toml"
    zones = ", ".join(f'{{ name = "{zone.name}", irradiance_w_m2 = 80.0 }}' for zone in CHAMBER.zones)
    file.write_text(f'id = "bench"\nboard = "{served.address}"\nzones = [{zones}]\n')
    return file


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def daemon(data: Path, chamber_file: Path) -> Iterator[Callable[..., Daemon]]:
    started: list[Daemon] = []

    def start(**environ: str) -> Daemon:
        started.append(Daemon(data, chamber_file, **environ))
        return started[-1]

    yield start
    for each in started:
        each.end()


@pytest.fixture
def store(data: Path) -> Iterator[Store]:
    """A database in the data folder with three lines."""
    data.mkdir()
    store = Store.open(data / "lampwarden.db")
    lines = [Line("noted", 0.0, f"2026-05-04T09:0{n}:00.000Z", {}, f"Line {n}.", "bench", None) for n in range(3)]
    store.commit(Batch(None, lines))
    yield store
    store.close()
