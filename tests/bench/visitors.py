"""Visitors of the dashboard, in a process of their own: each holds a page open, live, and polls the API.

Run as a module: ADDRESS CHAMBER VISITORS. They come one after the other; prints "here" once all are, goes on until its
standard input is closed, then prints one JSON object.
"""

import asyncio
import json
import re
import sys
import time
import uuid
from typing import Any

import aiohttp
import socketio

POLL_S = 1.0
NOTE_S = 60.0
"""Each visitor adds a journal line this often. Seldom: while a line waits for the disk the keeper looks every 50 ms,
and a delay would not be seen."""
PATIENCE_S = 20.0
"""Longest wait for a live connection, s."""
ACK_S = 3.0
"""As a browser does: the server forgets what was seen."""


class Visitor:
    def __init__(self, address: str, chamber_id: str, number: int) -> None:
        self._address, self._chamber_id, self._number = address, chamber_id, number
        self._next_id = 0
        self.updates = self.polls = self.notes = 0
        self.slowest_poll_s = 0.0

    async def come(self, http: aiohttp.ClientSession) -> None:
        """Loads the page and joins its live connection."""
        page = await self._text(http, f"/now/{self._chamber_id}")
        found = re.search(r"query: (\{.*?\}),\n", page)
        assert found is not None, "this is no page of ours"
        query = json.loads(found[1].replace("'", '"').replace("True", "true").replace("False", "false"))
        query |= {"implicit_handshake": "true", "tab_id": str(uuid.uuid4()), "document_id": str(uuid.uuid4())}
        self._client_id = query["client_id"]
        self._live = socketio.AsyncClient(http_session=http)
        self._live.on("*", self._hear)
        words = "&".join(f"{name}={value}" for name, value in query.items())
        await self._live.connect(
            f"{self._address}?{words}",
            socketio_path="/_nicegui_ws/socket.io",
            transports=["websocket"],
            wait_timeout=PATIENCE_S,
        )

    async def stay(self, http: aiohttp.ClientSession, leave: asyncio.Event) -> None:
        """Polls and notes until it is time to leave."""
        since = 0
        while not leave.is_set():
            began_s = time.monotonic()
            await self._text(http, f"/api/chambers/{self._chamber_id}")
            lines = json.loads(await self._text(http, f"/api/chambers/{self._chamber_id}/journal?after_seq={since}"))
            since = lines["next_after_seq"]
            self.slowest_poll_s = max(self.slowest_poll_s, time.monotonic() - began_s)
            self.polls += 1
            if (self.polls + 3 * self._number) % round(NOTE_S / POLL_S) == 0:
                await self._note(http)
            if self.polls % round(ACK_S / POLL_S) == 0 and self._live.connected:
                await self._live.emit("ack", {"client_id": self._client_id, "next_message_id": self._next_id})
            await asyncio.sleep(max(0.0, began_s + POLL_S - time.monotonic()))
        await self._live.disconnect()

    async def _hear(self, event: str, data: Any) -> None:
        if isinstance(data, dict) and "_id" in data:
            self._next_id = data["_id"] + 1
        if event == "update":
            self.updates += 1
        elif event == "run_javascript" and "request_id" in data and self._live.connected:
            answer = {"client_id": self._client_id, "request_id": data["request_id"], "result": None}
            await self._live.emit("javascript_response", answer)

    async def _text(self, http: aiohttp.ClientSession, path: str) -> str:
        async with http.get(self._address + path) as answer:
            assert answer.status == 200, await answer.text()
            return await answer.text()

    async def _note(self, http: aiohttp.ClientSession) -> None:
        order = {"by": f"visitor {self._number}", "text": "Looked in."}
        async with http.post(f"{self._address}/api/chambers/{self._chamber_id}/note", json=order) as answer:
            assert answer.status == 200, await answer.text()
        self.notes += 1


async def main() -> None:
    address, chamber_id, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
    leave = asyncio.Event()
    visitors = [Visitor(address, chamber_id, number) for number in range(count)]
    async with aiohttp.ClientSession() as http:
        visits = []
        for visitor in visitors:
            await visitor.come(http)
            visits.append(asyncio.create_task(visitor.stay(http, leave)))
        sys.stdout.write("here\n")
        sys.stdout.flush()
        gone = asyncio.create_task(asyncio.to_thread(sys.stdin.read))
        await asyncio.wait([gone, *visits], return_when=asyncio.FIRST_COMPLETED)
        leave.set()
        await asyncio.gather(*visits)
    figures = {
        "page_updates_min": min(visitor.updates for visitor in visitors),
        "polls": sum(visitor.polls for visitor in visitors),
        "notes": sum(visitor.notes for visitor in visitors),
        "slowest_poll_s": round(max(visitor.slowest_poll_s for visitor in visitors), 3),
    }
    sys.stdout.write(json.dumps(figures) + "\n")


if __name__ == "__main__":
    asyncio.run(main())
