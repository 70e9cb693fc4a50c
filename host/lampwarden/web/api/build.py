"""Puts the API together. It is an application of its own, mounted under /api beside the pages."""

from fastapi import Depends, FastAPI, Request
from starlette.concurrency import run_in_threadpool

from ... import __version__
from ...record.archive import ARCHIVE, Archive
from ...service import Service
from . import by_hand, elsewhere, kept, masks, orders, photos, problems, reading, records, series, shelf, starting

ABOUT = """\
Reads and orders one or more light-treatment chambers. Times ending in `_s` are seconds, `utc` is ISO 8601 text for
people, temperatures are degrees Celsius, doses J/cm² (100 J/cm² = 1 MJ/m²). Errors are problem bodies (RFC 9457).

Where a password is set, send an access token (`lampwarden password token`): `Authorization: Bearer lw_...`.

Never look at lit lamps. An order can light them: close the door first.
"""


def create_api(service: Service, archive: Archive | None = None) -> FastAPI:
    """The API over a service, with paths relative to /api. `archive`: by default that of its data folder."""

    async def belongs(request: Request) -> None:
        """A session in an address is one of the chamber in it."""
        names = request.path_params
        if "chamber_id" in names and "session_id" in names:
            await run_in_threadpool(reading.session_of, service, names["chamber_id"], names["session_id"])

    api = FastAPI(
        dependencies=[Depends(belongs)],
        title="Lampwarden",
        version=__version__,
        description=ABOUT,
        # The usual reference pages fetch their scripts from other hosts; the chamber's network may have none.
        docs_url=None,
        redoc_url=None,
        servers=[{"url": "/api"}],
        root_path_in_servers=False,
    )
    problems.install(api)
    api.include_router(reading.routes(service))
    api.include_router(orders.routes(service))
    api.include_router(masks.routes(service))
    api.include_router(shelf.routes(service))
    api.include_router(starting.routes(service))
    api.include_router(photos.routes(service))
    api.include_router(by_hand.routes(service))
    api.include_router(records.routes(service))
    api.include_router(series.routes(service))
    api.include_router(kept.routes(service))
    api.include_router(elsewhere.routes(service, archive or Archive(service.folder() / ARCHIVE)))
    plain = api.openapi
    api.openapi = lambda: problems.describe(plain())  # type: ignore[method-assign]
    return api
