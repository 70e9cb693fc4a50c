"""Before every request, inside the guard: who is it, and what may they do?

A browser signs in and holds a cookie; a script sends an access token (Authorization: Bearer). Without a password
everybody may do everything, but only this computer itself is listened to.
"""

import asyncio
import re
from math import ceil
from time import time
from urllib.parse import parse_qs, quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import URL
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from ...errors import NotAllowed
from ...notify.links import PATH as CALL
from ...notify.links import Call
from .. import installed
from ..guard import READS, refuse
from . import sign_in
from .access import Access
from .people import PASSWORD_LETTERS_MAX, Role
from .person import PERSON, Person
from .signed_in import STAYS_S

COOKIE = "lampwarden_session"
HEALTH = "/api/health"
_STOP = re.compile(r"/api/chambers/[^/]+/stop")
_ANSWERS = ("answer", "photos", "camera", "inspection")
"""Last parts of the addresses that answer a checkpoint; what stands behind them looks whether it is the right one."""
_TELLS_OF_PAGES = "/_nicegui"
"""What pages send of themselves. Orders in it come to the page's own service, which refuses those who only watch."""


class Gate:
    """ASGI middleware."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self._app, self._access = app, access
        self._one_at_a_time = asyncio.Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket") or scope["path"] == HEALTH:
            await self._app(scope, receive, send)
            return
        access, path = self._access, scope["path"]
        changes = access.changes()
        if changes:
            await run_in_threadpool(access.note, changes)
        if not access.password_set:
            if access.must_sign_in:
                detail = "Set a password on the computer that minds the chamber: lampwarden password set."
                await refuse(scope, receive, send, 403, "No password is set", detail)
            elif path in (sign_in.PATH, sign_in.OUT):
                await RedirectResponse("/", 303)(scope, receive, send)
            elif path.startswith(CALL) and scope["type"] == "http":
                await self._called(Request(scope, receive))(scope, receive, send)
            else:
                await self._let_in(scope, receive, send, None, HTTPConnection(scope))
            return
        asking = HTTPConnection(scope)
        if scope["type"] == "http" and path in (sign_in.PATH, sign_in.OUT):
            answer = await (self._sign_in if path == sign_in.PATH else self._sign_out)(Request(scope, receive))
            await answer(scope, receive, send)
            return
        if scope["type"] == "http" and path.startswith(CALL):
            reads = scope["method"] in READS
            request = Request(scope, receive)
            await (self._called(request) if reads else await self._by_link(request))(scope, receive, send)
            return
        role = self._role(asking)
        if role is not None:
            await self._let_in(scope, receive, send, role, asking)
        elif path in sign_in.OPEN_ASSETS or path in installed.OPEN:
            await self._app(scope, receive, send)
        elif scope["type"] == "http" and scope["method"] == "GET" and _is_a_person(asking):
            to = URL(scope=scope)
            here = f"{to.path}?{to.query}" if to.query else to.path
            await HTMLResponse(sign_in.way_there(here), 401, _NOT_KEPT)(scope, receive, send)
        else:
            detail = "Sign in at /sign-in, or send an access token: Authorization: Bearer lw_..."
            await refuse(scope, receive, send, 401, "Not signed in", detail)

    async def _let_in(
        self, scope: Scope, receive: Receive, send: Send, role: Role | None, asking: HTTPConnection
    ) -> None:
        may_operate = role is not Role.WATCH
        token = asking.cookies.get(COOKIE, "")

        def call() -> Call | None:
            return self._access.call_of(token) if role is Role.WATCH else None

        scope[PERSON] = Person(role, lambda: may_operate and self._as_before(role, asking), call)
        if scope["type"] == "websocket":

            async def receive_while_signed_in() -> Message:
                message = await receive()
                if self._as_before(role, asking) or message["type"] == "websocket.disconnect":
                    return message
                await send({"type": "websocket.close", "code": 1008, "reason": "Not signed in"})
                return {"type": "websocket.disconnect", "code": 1008}

            await self._app(scope, receive_while_signed_in, send)
        elif self._may(role, call(), scope["method"], scope["path"]):
            await self._app(scope, receive, send)
        else:
            detail = "You may watch, but not do this. Sign in with the password for operating."
            await refuse(scope, receive, send, 403, "Only watching", detail)

    def _as_before(self, role: Role | None, asking: HTTPConnection) -> bool:
        """Whether who was let in with this role would be so again, with the same."""
        if not self._access.password_set:
            return role is None and not self._access.must_sign_in
        return role is not None and self._role(asking) is role

    def _may(self, role: Role | None, call: Call | None, method: str, path: str) -> bool:
        if role is not Role.WATCH or method in READS or path.startswith(_TELLS_OF_PAGES):
            return True
        if call is not None and method == "POST":
            here = f"/api/chambers/{call.chamber_id}/"
            if path in [f"{here}{last}" for last in (*_ANSWERS, "stop")]:
                return True
        return self._access.watchers_stop and method == "POST" and _STOP.fullmatch(path) is not None

    def _role(self, asking: HTTPConnection) -> Role | None:
        kind, _, token = asking.headers.get("authorization", "").partition(" ")
        if kind.lower() == "bearer":
            return self._access.by_token(token.strip())
        return self._access.by_cookie(asking.cookies.get(COOKIE, ""))

    # --- addresses of its own -----------------------------------------------------------------------------------------

    def _called(self, request: Request) -> Response:
        """The page behind a link in a message. Mail programs look at links by themselves: it uses nothing up."""
        theme = request.cookies.get("lampwarden_theme", "")
        try:
            call = self._access.called(request.url.path)
        except NotAllowed as error:
            return HTMLResponse(sign_in.closed_page(str(error), theme=theme), 410, _NOT_KEPT)
        if not self._access.password_set:
            return RedirectResponse(_checkpoint(call), 303, _NOT_KEPT)
        return HTMLResponse(sign_in.call_page(call.checkpoint, theme=theme), headers=_NOT_KEPT)

    async def _by_link(self, request: Request) -> Response:
        """Opens what a link leads to, once; who operates, or has come by this link before, is just led there."""
        theme, token = request.cookies.get("lampwarden_theme", ""), request.cookies.get(COOKIE, "")
        address, path = request.client.host if request.client else "unknown", request.url.path
        try:
            call = self._access.called(path)
            if self._access.by_cookie(token) is Role.OPERATE or self._access.call_of(token) == call:
                return RedirectResponse(_checkpoint(call), 303, _NOT_KEPT)
            call, new = await run_in_threadpool(self._access.open_by_link, path, token, address)
        except NotAllowed as error:
            return HTMLResponse(sign_in.closed_page(str(error), theme=theme), 410, _NOT_KEPT)
        answer = RedirectResponse(_checkpoint(call), 303, _NOT_KEPT)
        if new != token:
            _keep(answer, request, new, call.until_s - time())
        return answer

    async def _sign_in(self, request: Request) -> Response:
        theme = request.cookies.get("lampwarden_theme", "")
        if request.method in READS:
            to = sign_in.safe_target(request.query_params.get("to", "/"))
            if self._role(request) is not None:
                return RedirectResponse(to, 303)
            return HTMLResponse(sign_in.page(to=to, theme=theme), headers=_NOT_KEPT)
        form = parse_qs((await request.body()).decode("utf-8", "replace"))
        password, to = form.get("password", [""])[0], sign_in.safe_target(form.get("to", ["/"])[0])
        address = request.client.host if request.client else "unknown"
        async with self._one_at_a_time:  # a flood of tries shall not take the worker threads that orders need
            wait_s = self._access.wait_s(address)
            if wait_s > 0:
                wrong = f"Too many wrong passwords. Wait {ceil(wait_s)} s, then try again."
                headers = _NOT_KEPT | {"retry-after": str(ceil(wait_s))}
                return HTMLResponse(sign_in.page(to=to, wrong=wrong, theme=theme), 429, headers)
            # A longer one is wrong; reckoning its hash would only take time.
            token = await run_in_threadpool(self._access.sign_in, password[: PASSWORD_LETTERS_MAX + 1], address)
        if token is None:
            wrong = "This is not one of the passwords. Look at capital letters and spaces."
            return HTMLResponse(sign_in.page(to=to, wrong=wrong, theme=theme), 403, _NOT_KEPT)
        answer = RedirectResponse(to, 303, _NOT_KEPT)
        _keep(answer, request, token)
        return answer

    async def _sign_out(self, request: Request) -> Response:
        if request.method != "POST":
            return RedirectResponse("/", 303)
        address = request.client.host if request.client else "unknown"
        await run_in_threadpool(self._access.sign_out, request.cookies.get(COOKIE, ""), address)
        answer = RedirectResponse(sign_in.PATH, 303, _NOT_KEPT)
        _keep(answer, request, "")
        return answer


_NOT_KEPT = {"cache-control": "no-store"}


def _checkpoint(call: Call) -> str:
    return f"/now/{quote(call.chamber_id, safe='')}#checkpoint"


def _keep(answer: Response, request: Request, token: str, stays_s: float = STAYS_S) -> None:
    answer.set_cookie(
        COOKIE,
        token,
        max_age=int(stays_s) if token else 0,
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
    )


def _is_a_person(asking: HTTPConnection) -> bool:
    return "text/html" in asking.headers.get("accept", "") and not asking.url.path.startswith("/api/")
