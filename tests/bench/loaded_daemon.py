"""The daemon's own parts in one process, as `lampwarden serve` joins them, with a slow disk and photos to switch on.

Run as a module: CHAMBER.toml DATABASE PHOTO.jpg. Prints its address, then answers each command line with one of JSON:
  heartbeats        instants (monotonic s) at which the board acknowledged a heartbeat, since the last asking
  slow SECONDS      each commit and each keeping of totals takes this much longer
  photos on|off     decode the photo again and again, in a process pool; answers how many were decoded since
"""

import json
import multiprocessing
import sys
import threading
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import uvicorn

from lampboard.registers import DEMAND
from lampwarden.domain.chamber import Chamber
from lampwarden.domain.program_file import parse_as
from lampwarden.keeper import Keeper, RealClock
from lampwarden.link.board import Board
from lampwarden.link.transport import WRITE_MANY, ModbusTransport, SerialPort
from lampwarden.service import Service
from lampwarden.store.records import Json
from lampwarden.store.store import Rows, Store
from lampwarden.store.writer import ThreadWriter
from lampwarden.web.app import create_app

from .photo import decode


class SlowStore(Store):
    """The real store on a disk that takes `slow_s` longer for whatever must be on it."""

    slow_s = 0.0

    def write(self, rows: Rows) -> None:
        time.sleep(self.slow_s)
        super().write(rows)

    def tick(self, session_id: str, totals: Json, *, sync: bool = True) -> None:
        time.sleep(self.slow_s)
        super().tick(session_id, totals, sync=sync)


class NotedTransport(ModbusTransport):
    """The real transport; notes when the board has acknowledged a heartbeat."""

    def __init__(self, port: SerialPort) -> None:
        super().__init__(port)
        self.heartbeats_s: list[float] = []

    def ask(self, function: int, address: int, count: int = 1, values: Sequence[int] = ()) -> list[int]:
        answer = super().ask(function, address, count, values)
        if (function, address) == (WRITE_MANY, DEMAND[0]):
            self.heartbeats_s.append(time.monotonic())
        return answer


class Photos:
    """Decodes one photo after the other while it is on."""

    def __init__(self, path: str) -> None:
        self._path = path
        self._pool = ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn"))
        self._on = threading.Event()
        self.decoded = 0
        threading.Thread(target=self._run, daemon=True).start()

    def switch(self, on: bool) -> int:
        """How many were decoded since the last switching."""
        done, self.decoded = self.decoded, 0
        if on:
            self._on.set()
        else:
            self._on.clear()
        return done

    def _run(self) -> None:
        while True:
            self._on.wait()
            self._pool.submit(decode, self._path).result()
            self.decoded += 1

    def close(self) -> None:
        self._on.clear()
        self._pool.shutdown(cancel_futures=True)


def main() -> None:
    chamber_file, database, photo = sys.argv[1:]
    chamber = parse_as(Chamber, Path(chamber_file).read_text(), chamber_file)
    store = SlowStore.open(database)
    clock, writer = RealClock(), ThreadWriter(store)
    transport = NotedTransport(SerialPort(chamber.board.removeprefix("serial:")))
    service = Service(store, clock)
    service.add(Keeper(chamber, Board(transport), clock, writer))
    photos = Photos(photo)
    server = uvicorn.Server(uvicorn.Config(create_app(service), port=0, log_level="warning"))

    def obey(word: str, more: str) -> Any:
        if word == "heartbeats":
            noted, transport.heartbeats_s = transport.heartbeats_s, []
            return noted
        if word == "slow":
            store.slow_s = float(more)
            return store.slow_s
        if word == "photos":
            return photos.switch(more == "on")
        raise ValueError(word)

    def listen() -> None:
        while not server.started:
            time.sleep(0.01)
        port = server.servers[0].sockets[0].getsockname()[1]
        sys.stdout.write(f"http://127.0.0.1:{port}\n")
        sys.stdout.flush()
        for line in sys.stdin:
            word, _, more = line.strip().partition(" ")
            sys.stdout.write(json.dumps(obey(word, more)) + "\n")
            sys.stdout.flush()
        server.should_exit = True

    threading.Thread(target=listen, daemon=True).start()
    service.run()
    server.run()
    service.close()
    store.slow_s = 0.0
    photos.close()
    writer.close()
    store.close()


if __name__ == "__main__":
    main()
