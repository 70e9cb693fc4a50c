"""Who may ask: hosts, foreign pages, sizes. Behind the guard stands an application that answers everything."""

import asyncio
from typing import Any

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket

from lampwarden.web.guard import BODY_BYTES_MAX, Guard

from .conftest import Asker


async def _answer(request: Request) -> PlainTextResponse:
    return PlainTextResponse(str(len(await request.body())))


async def _accept(socket: WebSocket) -> None:
    await socket.accept()


BEHIND = Starlette(
    routes=[
        Route("/", _answer, methods=["GET", "POST", "PUT", "DELETE"]),
        Route("/_nicegui_ws/socket.io/", _answer),
        WebSocketRoute("/_nicegui_ws/socket.io/", _accept),
    ]
)


@pytest.fixture
def asker() -> Asker:
    return Asker(Guard(BEHIND, hosts=["Chamber.local"]))


@pytest.mark.parametrize(
    "host",
    [
        "localhost",
        "localhost:8470",
        "LOCALHOST:1",
        "127.0.0.1:8470",
        "[::1]:8470",
        "192.168.1.20:8470",
        "chamber.local",
    ],
)
def test_own_hosts(asker: Asker, host: str) -> None:
    assert asker.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", "localhost.evil.example", "evil.example:8470", "", "a@localhost", "localhost:x", "[::1", "1.2.3",
     "localhost;script-src *", "localhost/x", "localhost:80:80"],
)  # fmt: skip
def test_foreign_hosts_are_refused(asker: Asker, host: str) -> None:
    answer = asker.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["detail"]


@pytest.mark.parametrize("path", ["/%0a", "/api/chambers/bench%0A/stop", "/a%00b", "/%1b[2J"])
def test_addresses_with_control_characters_lead_nowhere(asker: Asker, path: str) -> None:
    answer = asker.get(path)
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE"])
@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),  # a script
        ({"origin": "http://localhost:8470"}, 200),
        ({"origin": "http://localhost:8470", "sec-fetch-site": "same-origin"}, 200),
        ({"sec-fetch-site": "same-origin"}, 200),
        ({"origin": "http://localhost:8471"}, 403),  # another program on this machine
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
    ],
)
def test_foreign_pages_cannot_change_anything(asker: Asker, method: str, headers: dict[str, str], status: int) -> None:
    assert asker.ask(method, "/", headers=headers).status_code == status


def test_a_link_from_a_foreign_page_may_be_followed(asker: Asker) -> None:
    assert asker.get("/", headers={"sec-fetch-site": "cross-site"}).status_code == 200


def test_foreign_pages_cannot_poll_the_live_connection(asker: Asker) -> None:
    path = "/_nicegui_ws/socket.io/"
    assert asker.get(path, headers={"origin": "http://evil.example"}).status_code == 403
    assert asker.get(path, headers={"sec-fetch-site": "same-origin"}).status_code == 200


@pytest.mark.parametrize(
    ("origin", "first"),
    [
        ("http://localhost:8470", "websocket.accept"),
        ("http://evil.example", "websocket.close"),
        (None, "websocket.accept"),
    ],
)
def test_foreign_pages_cannot_open_a_live_connection(origin: str | None, first: str) -> None:
    headers = [(b"host", b"localhost:8470")] + ([(b"origin", origin.encode())] if origin else [])
    scope = {"type": "websocket", "path": "/_nicegui_ws/socket.io/", "headers": headers, "query_string": b""}
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "websocket.connect"}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    asyncio.run(Guard(BEHIND)(scope, receive, send))
    assert sent[0]["type"] == first


def test_size(asker: Asker) -> None:
    assert asker.ask("POST", "/", content=b"x" * BODY_BYTES_MAX).text == str(BODY_BYTES_MAX)
    assert asker.ask("POST", "/", content=b"x" * (BODY_BYTES_MAX + 1)).status_code == 413

    async def pieces() -> Any:
        yield b"x"

    assert asker.ask("POST", "/", content=pieces()).status_code == 411


def test_headers(asker: Asker) -> None:
    headers = asker.get("/").headers
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert "ws://localhost:8470" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert "access-control-allow-origin" not in headers
