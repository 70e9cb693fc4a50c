"""Who may ask at all. The dashboard switches lamps, so a foreign web page must not be able to use it.

- A Host header that is neither this machine, a plain address nor a name given at the start is refused: a foreign
  page may point its own name at this machine (DNS rebinding), but not an address.
- A request that changes something, and a live connection, must come from a page of this very host (Origin,
  Sec-Fetch-Site). Programs other than browsers send neither header and pass.
- Pages may not be framed (clicks could be stolen), nor ask any other host for anything.
"""

import ipaddress
import json
import re
from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

READS = ("GET", "HEAD", "OPTIONS")
OWN_NAMES = ("localhost",)
BODY_BYTES_MAX = 262_144
"""Longest request body: a program of 8 zones with a hundred exposures each takes some 50 kB."""
PHOTOS_BYTES_MAX = 400_000_000
"""The same for photos: a bracket of five TIFFs. They go to a temporary file as they come, not to memory."""
BAG_BYTES_MAX = 2_000_000_000
"""The same for a record with its photos, as another host packed it."""
_PHOTOS = re.compile(r"/api/chambers/[^/]+/photos")
_BAG = "/api/elsewhere"

HEADERS: Mapping[str, str] = {
    # Vue compiles its templates in the browser, hence unsafe-eval; everything else comes from this host alone.
    "content-security-policy": "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval';"
    " style-src 'self' 'unsafe-inline'; img-src 'self' data:; font-src 'self' data:;"
    " connect-src 'self' ws://{host} wss://{host}; frame-ancestors 'none'; base-uri 'self'; form-action 'self'",
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # Not "no-referrer": with that a browser sends the forms of sign-in and sign-out without saying where they are from.
    "referrer-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}


class Guard:
    """ASGI middleware, outermost. `hosts`: further names this dashboard is called by, without port."""

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = ()) -> None:
        self._app = app
        self._names = frozenset(name.lower() for name in (*OWN_NAMES, *hosts))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await refuse(scope, receive, send, *refusal)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out.setdefault(name, value.replace("{host}", headers["host"]))
            await send(message)

        await self._app(scope, receive, send_guarded)

    def _refusal(self, scope: Scope, headers: Headers) -> tuple[int, str, str] | None:
        """Status, title and what to do; None to let it pass."""
        host = headers.get("host", "")
        if not self._is_ours(host):
            return 421, "Unknown host", "Ask for this dashboard by the address that was printed at its start."
        if not scope["path"].isprintable():
            return 404, "Nothing of that name", "The address holds a sign that cannot be printed. Leave it out."
        if scope["type"] == "http" and scope["method"] in READS and not scope["path"].startswith("/_nicegui_ws"):
            return None
        origin, site = headers.get("origin"), headers.get("sec-fetch-site")
        if origin is not None and urlsplit(origin).netloc != host:
            return 403, "Foreign page", "Another web page tried to use this chamber. Use the dashboard's own page."
        if origin is None and site not in (None, "same-origin", "none"):
            return 403, "Foreign page", "Another web page tried to use this chamber. Use the dashboard's own page."
        if "transfer-encoding" in headers:
            return 411, "Length missing", "Send the request with a Content-Length."
        length = headers.get("content-length", "0")
        most = BAG_BYTES_MAX if scope["path"] == _BAG else BODY_BYTES_MAX
        if _PHOTOS.fullmatch(scope["path"]):
            most = PHOTOS_BYTES_MAX
        if not length.isdigit() or int(length) > most:
            return 413, "Too much", f"A request may carry {most} bytes at most."
        return None

    def _is_ours(self, host: str) -> bool:
        try:
            parts = urlsplit(f"//{host}")
            name, _ = parts.hostname, parts.port  # a port that is none raises ValueError
            if name is None or parts.netloc != host or "@" in host:
                return False
            if name not in self._names:
                ipaddress.ip_address(name)
        except ValueError:
            return False
        return True


async def refuse(scope: Scope, receive: Receive, send: Send, status: int, title: str, detail: str) -> None:
    """Answers with a problem body (RFC 9457), or closes a live connection before it is one."""
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1008, "reason": title})
        return
    body = json.dumps({"type": "about:blank", "title": title, "status": status, "detail": detail}).encode()
    start: dict[str, Any] = {
        "type": "http.response.start",
        "status": status,
        "headers": [
            (b"content-type", b"application/problem+json"),
            (b"content-length", str(len(body)).encode()),
            *([(b"www-authenticate", b"Bearer")] if status == 401 else []),
        ],
    }
    await send(start)
    await send({"type": "http.response.body", "body": body})
