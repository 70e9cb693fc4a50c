"""One web application: the API under /api, the pages beside it, the guard before both."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from fastapi.staticfiles import StaticFiles
from nicegui import app as nicegui_app
from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ..domain.commissioning import Papers
from ..domain.program import Program
from ..errors import UnknownName
from ..notify.notifier import Notifier
from ..publishing.metrics import Metrics
from ..record.archive import ARCHIVE, Archive
from ..service import Service
from . import camera_try, installed, metrics, sheet_pictures
from .api import create_api
from .auth.access import Access
from .auth.gate import Gate
from .auth.person import PERSON, Person
from .auth.watching import ARCHIVE_READS, NOTIFIER_READS, SERVICE_READS, watching
from .guard import Guard
from .pages.chamber import ChamberPage
from .pages.diary import DiaryPage
from .pages.kept import KeptPage
from .pages.messages import MessagesPage
from .pages.now import NowPage
from .pages.plan.editor import PlanPage
from .pages.plan.listing import PlansPage
from .pages.reader import Reader
from .pages.results import ResultPage, ResultsPage, SeriesPage
from .pages.sheets import SheetPage, SheetsPage
from .pages.shell import ASSETS, NOT_FOUND
from .pages.site import Site

FETCH_S = 20.0
"""Longest time a page may take to read its records, s: a slow disk is no reason to show nothing."""
RECONNECT_S = 10.0
"""How long the server keeps a page whose connection is gone, s; later the page loads itself anew."""

PAGES: dict[str, Callable[..., object]] = {
    "/now/{chamber_id}": NowPage,
    "/plan/{chamber_id}": PlansPage,
    "/plan/{chamber_id}/{plan_id}": PlanPage,
    "/sheets/{chamber_id}": SheetsPage,
    "/sheets/{chamber_id}/{sheet_id}": SheetPage,
    "/results/{chamber_id}": ResultsPage,
    "/results/{chamber_id}/{session_id}": ResultPage,
    "/series/{chamber_id}": SeriesPage,
    "/kept/{chamber_id}": KeptPage,
    "/chamber/{chamber_id}": ChamberPage,
    "/journal/{chamber_id}": DiaryPage,
    "/messages/{chamber_id}": MessagesPage,
}
"""Pages by address; each is called with the site, the reader and the names in its address.

What a page must read from the records before it can be shown, its `fetch` reads in a worker thread, given the site and
the names; it gets that as `opened`.
"""


def create_app(
    service: Service,
    *,
    title: str = "Lampwarden",
    programs: Mapping[str, Program] | None = None,
    notice: str = "",
    hosts: Iterable[str] = (),
    papers: Callable[[str], Papers] | None = None,
    notifier: Notifier | None = None,
    access: Access | None = None,
    measured: Metrics | None = None,
) -> FastAPI:
    """The dashboard of a service. Call it once in a process: the page framework keeps its state in globals.

    The service is run and closed by the caller. `programs`: programs the page offers to start, by a short name;
    `notice`: a line shown on top of the page; `hosts`: names this host is asked by, besides localhost and addresses;
    `papers`: the newest papers of a board, by its serial number; None: there are none here;
    `notifier`: what sends messages; `access`: passwords and tokens; None: whoever gets here may do everything;
    `measured`: what is shown at /metrics; None: nothing.
    """
    app = FastAPI(title=title, docs_url=None, redoc_url=None, openapi_url=None)
    if access is not None:
        app.add_middleware(Gate, access=access)
    app.add_middleware(Guard, hosts=hosts)  # added last, it comes first
    archive = Archive(service.folder() / ARCHIVE)
    app.mount("/api", create_api(service, archive))
    app.mount("/assets", StaticFiles(directory=ASSETS))
    app.include_router(sheet_pictures.routes(service))
    app.include_router(installed.routes(title))
    site = Site(
        service,
        title,
        programs or {},
        notice,
        papers or (lambda board_id: Papers()),
        notifier=notifier,
        archive=archive,
    )
    app.include_router(camera_try.routes(site.test_photos))
    if measured is not None:
        app.include_router(metrics.routes(measured))
    for path, page in PAGES.items():
        _serve(site, path, page)

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


def _serve(site: Site, path: str, page: Callable[..., object]) -> None:
    """Serves a page. Every address names a chamber; what follows it is given to the page by name."""

    fetch = getattr(page, "fetch", None)

    @ui.page(path, title=site.title, response_timeout=FETCH_S)
    async def show(chamber_id: str, request: Request) -> Response | None:
        names = request.path_params
        person: Person | None = request.scope.get(PERSON)
        given = _for(person, site) if person else site
        try:
            site.service.snapshot(chamber_id)
            opened = {"opened": await run_in_threadpool(fetch, given, **names)} if fetch else {}
            page(given, _reader(request, person), **names, **opened)
        except UnknownName:
            return HTMLResponse(NOT_FOUND, 404)
        return None


def _for(person: Person, site: Site) -> Site:
    """The dashboard, giving orders only as long as this person may."""
    notifier = watching(site.notifier, NOTIFIER_READS, person.may_operate) if site.notifier else None
    service = watching(site.service, SERVICE_READS, person.may_operate, person.call)
    archive = watching(site.archive, ARCHIVE_READS, person.may_operate) if site.archive else None
    return replace(site, service=service, notifier=notifier, archive=archive)


def _reader(request: Request, person: Person | None) -> Reader:
    call = person.call() if person else None
    return Reader(request.cookies, person.role if person else None, call.checkpoint if call else "")
