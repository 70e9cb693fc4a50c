"""One web application: the API under /api, the pages beside it, the guard before both."""

from collections.abc import Iterable, Mapping

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from fastapi.staticfiles import StaticFiles
from nicegui import app as nicegui_app
from nicegui import ui

from ..domain.program import Program
from ..errors import UnknownName
from ..service import Service
from .api import create_api
from .guard import Guard
from .pages.now import NowPage
from .pages.reader import Reader
from .pages.shell import ASSETS, NOT_FOUND
from .watch import Watch

RECONNECT_S = 10.0
"""How long the server keeps a page whose connection is gone, s; later the page loads itself anew."""


def create_app(
    service: Service,
    *,
    title: str = "Lampwarden",
    programs: Mapping[str, Program] | None = None,
    notice: str = "",
    hosts: Iterable[str] = (),
) -> FastAPI:
    """The dashboard of a service. Call it once in a process: the page framework keeps its state in globals.

    The service is run and closed by the caller. `programs`: programs the page offers to start, by a short name;
    `notice`: a line shown on top of the page; `hosts`: names this host is asked by, besides localhost and addresses.
    """
    app = FastAPI(title=title, docs_url=None, redoc_url=None, openapi_url=None)
    app.add_middleware(Guard, hosts=hosts)
    app.mount("/api", create_api(service))
    app.mount("/assets", StaticFiles(directory=ASSETS))
    watches: dict[str, Watch] = {}

    @ui.page("/now/{chamber_id}", title=title)
    def now(chamber_id: str, request: Request) -> Response | None:
        try:
            service.snapshot(chamber_id)
        except UnknownName:
            return HTMLResponse(NOT_FOUND, 404)
        watch = watches.setdefault(chamber_id, Watch(service, chamber_id))
        reader = Reader(request.cookies)
        NowPage(service, chamber_id, reader, watch, programs or {}, notice)
        return None

    @app.get("/")
    def first() -> RedirectResponse:
        return RedirectResponse(f"/now/{service.chambers()[0].chamber.id}")

    @nicegui_app.exception_handler(404)
    async def not_found(_request: Request, _error: Exception) -> HTMLResponse:
        return HTMLResponse(NOT_FOUND, 404)

    ui.run_with(
        app,
        title=title,
        favicon=ASSETS / "icon.svg",
        language="en-US",
        binding_refresh_interval=None,  # pages are brought up to date by their own timers
        reconnect_timeout=RECONNECT_S,
        tailwind=False,
        show_welcome_message=False,
    )
    return app
