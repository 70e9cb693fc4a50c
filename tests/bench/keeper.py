"""Is the keeper held up? Its longest gap between heartbeats, loaded, beside the same chamber at rest.

Load: 20 clients that poll the API without a pause, a 24 megapixel photo being decoded in a process pool over and over,
and a disk that takes 0.3 s for each commit. The board is the real firmware, served over TCP in real time.
Run: python -m tests.bench.keeper
"""

import io
import multiprocessing
import socket
import tempfile
import threading
import time
import urllib.request
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import numpy as np
import uvicorn
from PIL import Image

from lampwarden.domain.program import Exposure, Program, ZonePlan
from lampwarden.keeper import Keeper, RealClock, Snapshot
from lampwarden.keeper.keeper import HEARTBEAT_TIMEOUT_S
from lampwarden.link.board import Board
from lampwarden.link.transport import open_transport
from lampwarden.rehearsal import demo_chamber
from lampwarden.rig.design import RigDesign
from lampwarden.rig.served import serve_tcp
from lampwarden.rig.world import World
from lampwarden.service import Service
from lampwarden.store.store import Rows, Store
from lampwarden.store.writer import ThreadWriter
from lampwarden.web.api import create_api

CLIENTS = 20
COMMIT_S = 0.3
PROGRAM = Program(title="Bench", zones=(ZonePlan(zone="A1", exposures=(Exposure(end_s=3600.0),)),))


class SlowStore(Store):
    """The store on a disk that takes COMMIT_S for each commit."""

    def write(self, rows: Rows) -> None:
        time.sleep(COMMIT_S)
        super().write(rows)


def poll(address: str, until: float) -> int:
    """20 clients in a process of their own, as browsers are. Returns the number of answers."""
    answers = [0] * CLIENTS

    def client(number: int) -> None:
        paths = (f"{address}/chambers/demo", f"{address}/chambers/demo/session", f"{address}/chambers/demo/journal")
        while time.time() < until:
            with urllib.request.urlopen(paths[answers[number] % 3], timeout=30) as answer:
                answer.read()
            answers[number] += 1

    threads = [threading.Thread(target=client, args=(number,)) for number in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sum(answers)


def photo() -> bytes:
    """A 24 megapixel JPEG of noise, which is slow to decode."""
    pixels = np.random.default_rng(1).integers(0, 256, (4000, 6000, 3), dtype=np.uint8)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=90)
    return file.getvalue()


def decode(jpeg: bytes, until: float) -> int:
    """Decodes it over and over; returns how often."""
    count = 0
    while time.time() < until:
        Image.open(io.BytesIO(jpeg)).load()
        count += 1
    return count


def longest_gap_s(seconds: float, *, loaded: bool) -> tuple[float, str]:
    """Longest time between two turns of the keeper of a lit session, s, and what the load did meanwhile."""
    seen: list[float] = []

    def watch(snapshot: Snapshot) -> None:
        seen.append(time.monotonic())

    chamber = demo_chamber()
    board = serve_tcp(World(RigDesign(), 1, chamber))
    with tempfile.TemporaryDirectory() as folder:
        store = (SlowStore if loaded else Store).open(Path(folder) / "bench.db")
        writer, clock = ThreadWriter(store), RealClock()
        service = Service(store, clock)
        service.add(Keeper(chamber, Board(open_transport(board.address)), clock, writer), watch)
        service.run()
        listener = socket.create_server(("127.0.0.1", 0))
        server = uvicorn.Server(uvicorn.Config(create_api(service), log_level="warning"))
        web = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        web.start()
        try:
            while service.snapshot("demo").board.live is None:
                time.sleep(0.1)
            time.sleep(3.0)
            service.start("demo", PROGRAM, f"a benchmark, {datetime.now(UTC):%H:%M}")
            done = "at rest"
            seen.clear()
            if loaded:
                address = f"http://127.0.0.1:{listener.getsockname()[1]}"
                until = time.time() + seconds
                with ProcessPoolExecutor(2, multiprocessing.get_context("spawn")) as pool:
                    polled, decoded = pool.submit(poll, address, until), pool.submit(decode, photo(), until)
                    done = f"{polled.result()} answers to {CLIENTS} clients, {decoded.result()} photos of 24 MP decoded"
            else:
                time.sleep(seconds)
            turns = list(seen)
        finally:
            server.should_exit = True
            web.join()
            service.close()
            writer.close()
            store.close()
            board.close()
    return max(b - a for a, b in pairwise(turns)), done


def main() -> None:
    """Prints both figures and their ratio."""
    rest_s, _ = longest_gap_s(10.0, loaded=False)
    loaded_s, what = longest_gap_s(20.0, loaded=True)
    bound_s = HEARTBEAT_TIMEOUT_S / 3
    print(f"Longest gap between two turns: {rest_s:.3f} s at rest, {loaded_s:.3f} s loaded ({what}).")  # noqa: T201
    print(f"Loaded / rest: {loaded_s / rest_s:.2f}. Beyond the period of 1 s: {loaded_s - 1:.3f} s; bound {bound_s} s.")  # noqa: T201


if __name__ == "__main__":
    main()
