"""The API of a bench behind gate and guard, over a real socket."""

import threading
from pathlib import Path
from typing import TYPE_CHECKING

import httpx
import uvicorn
from fastapi import FastAPI, Request, WebSocket

from lampwarden.web.auth.access import Access
from lampwarden.web.auth.calls import closed
from lampwarden.web.auth.gate import Gate
from lampwarden.web.auth.people import People, PeopleFile
from lampwarden.web.auth.person import PERSON
from lampwarden.web.guard import Guard

from .one_api import api_of

if TYPE_CHECKING:
    from .conftest import Bench

OPERATING, WATCHING = "lamp oil and herring", "only a look please"


class Served:
    """A server in a thread of its own."""

    def __init__(self, bench: "Bench", folder: Path, people: People | None, *, must: bool, watchers_stop: bool) -> None:
        self.bench, self.folder, self.file = bench, folder, PeopleFile(folder)
        if people is not None:
            self.file.write(people)
        app = FastAPI()
        access = Access(
            folder,
            bench.service.report,
            must_sign_in=must,
            watchers_stop=watchers_stop,
            closed=closed(bench.service),
        )
        app.add_middleware(Gate, access=access)
        app.add_middleware(Guard)
        app.mount("/api", api_of(bench.service))

        @app.api_route("/now/bench", methods=["GET", "POST"])
        def page(request: Request) -> str:
            role = request.scope[PERSON].role
            return role.value if role else "everybody"

        @app.websocket("/_nicegui_ws/socket.io/")
        async def live(socket: WebSocket) -> None:
            await socket.accept()
            while True:
                await socket.send_text(await socket.receive_text())

        self.server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="warning"))
        self._thread = threading.Thread(target=self.server.run, daemon=True)
        self._thread.start()
        while not self.server.started:
            self._thread.join(0.01)
        port = self.server.servers[0].sockets[0].getsockname()[1]
        self.address = f"http://127.0.0.1:{port}"

    def client(self, **about: object) -> httpx.Client:
        return httpx.Client(base_url=self.address, timeout=10, **about)

    def signed_in(self, password: str) -> httpx.Client:
        client = self.client()
        assert client.post("/sign-in", data={"password": password, "to": "/now/bench"}).status_code == 303
        return client

    @property
    def lines(self) -> list[tuple[str, str]]:
        return [(line.kind, line.text) for line in self.bench.service.last_lines("bench", 50)]

    def close(self) -> None:
        self.server.should_exit = True
        self._thread.join(5)
