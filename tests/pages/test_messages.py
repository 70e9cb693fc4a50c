"""The page Messages: a channel is set up, tried against a real listener, and what came of it is shown."""

import json
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any

import pytest

from .conftest import PHONE, DemoProcess, Look


@pytest.fixture
def listener() -> Iterator[tuple[list[dict[str, Any]], int]]:
    taken: list[dict[str, Any]] = []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            taken.append(json.loads(self.rfile.read(int(self.headers["content-length"]))))
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield taken, server.server_port
    server.shutdown()
    server.server_close()


def test_a_channel_from_nothing(
    demo: Callable[..., DemoProcess], look: Callable[..., Look], listener: tuple[list[dict[str, Any]], int]
) -> None:
    taken, port = listener
    show = demo(begin=False)
    here = look(show.address, PHONE)
    here.page.goto(show.address + "/messages/demo")
    here.says("No channel is set up yet")
    here.shoot("messages-none")
    here.page.get_by_text("Add a channel", exact=True).click()
    here.page.get_by_label("Name").fill("Workshop")
    here.page.get_by_label("Address", exact=False).first.fill("pigeon//loft")
    here.press("Add the channel")
    here.says("Write the address with its ://.")
    here.page.get_by_label("Address", exact=False).first.fill(f"json://127.0.0.1:{port}/lamp")
    here.press("Add the channel")
    here.says("Never tried.")
    here.press("Send a test")
    here.says("Last: delivered")
    assert [message["title"] for message in taken] == ["A test from Lampwarden"]
    here.shoot("messages")
    here.press("Remove")
    here.says("No channel is set up yet")
