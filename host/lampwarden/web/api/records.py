"""The treatment record of a session, in each of its forms."""

import tempfile
from pathlib import Path as FilePath
from typing import Annotated, Any

from fastapi import APIRouter, Path
from fastapi.responses import FileResponse, Response
from starlette.background import BackgroundTask

from ...errors import NotNow, ProgramError, StoreError, UnknownName
from ...record.gather import Record, gather
from ...record.html import to_html
from ...record.spreadsheet import MARK
from ...record.tables import TABLES
from ...record.telling import document
from ...service import Service
from .problems import responses
from .reading import ChamberId, SessionId

STANDS_ALONE = {
    "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox;"
    " form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
}
"""For pages with everything inside: no script runs, nothing is asked for, nothing is sent."""
KNOWN = responses(UnknownName, StoreError)
_ENDINGS = {"JPEG": ".jpg", "PNG": ".png", "TIFF": ".tif", "HEIC": ".heic", "WebP": ".webp"}


def routes(service: Service) -> APIRouter:
    """All forms of the record."""
    router = APIRouter(tags=["Record"])

    def picture(name: str) -> bytes | None:
        try:
            return file(name)[0]
        except (UnknownName, StoreError):
            return None

    def file(name: str) -> tuple[bytes, str]:
        try:
            data, kind = service.photo(name)
        except UnknownName:
            return service.sheet_picture(name), ".jpg"
        return data, _ENDINGS.get(kind, ".bin")

    base = "/chambers/{chamber_id}/sessions/{session_id}/record"

    @router.get(f"{base}.json", summary="The record as data", responses=KNOWN)
    def as_json(chamber_id: ChamberId, session_id: SessionId) -> Record:
        """Everything but the photos; it comes back from its JSON unchanged."""
        return gather(service, session_id)

    @router.get(f"{base}.html", summary="The record as a page", response_class=Response, responses=_may("text/html"))
    def as_html(chamber_id: ChamberId, session_id: SessionId) -> Response:
        """One file that stands alone, its pictures inside."""
        page = to_html(document(gather(service, session_id)), picture)
        return Response(page, media_type="text/html; charset=utf-8", headers=STANDS_ALONE)

    @router.get(
        f"{base}.pdf", summary="The record to print", response_class=Response, responses=_may("application/pdf")
    )
    def as_pdf(chamber_id: ChamberId, session_id: SessionId) -> Response:
        """A4."""
        from ...record.pdf import to_pdf

        page = to_pdf(document(gather(service, session_id)), picture)
        return Response(page, media_type="application/pdf", headers=_named(f"{session_id}-record.pdf"))

    @router.get(
        base + "/{table}.csv", summary="One table of the record", response_class=Response, responses=_may("text/csv")
    )
    def as_csv(
        chamber_id: ChamberId,
        session_id: SessionId,
        table: Annotated[str, Path(pattern=f"^({'|'.join(TABLES)})$", examples=["colours"])],
    ) -> Response:
        """session, zones, colours (a row a cell and reading), climate, journal or findings."""
        content = MARK + TABLES[table](gather(service, session_id))
        return Response(content, media_type="text/csv", headers=_named(f"{session_id}-{table}.csv"))

    @router.get(
        base + "/bag.zip", summary="The record with its photos", response_class=Response,
        responses=_may("application/zip"),
    )  # fmt: skip
    def as_bag(chamber_id: ChamberId, session_id: SessionId) -> FileResponse:
        """A BagIt bag (RFC 8493): any archive can check it, and another host can take it in."""
        from ...record.bag import pack  # late, as above

        record = gather(service, session_id)
        folder = tempfile.TemporaryDirectory(prefix="lampwarden-")
        path = pack(record, file, FilePath(folder.name) / "bag.zip")
        name = f"lampwarden-{session_id}.zip"
        done = BackgroundTask(folder.cleanup)
        return FileResponse(path, media_type="application/zip", filename=name, background=done)

    return router


def _named(name: str) -> dict[str, str]:
    return {"content-disposition": f'attachment; filename="{name}"'}


def _may(media: str) -> dict[int | str, dict[str, Any]]:
    ok: dict[int | str, dict[str, Any]] = {200: {"content": {media: {}}, "description": "The file."}}
    return ok | responses(UnknownName, NotNow, ProgramError, StoreError)
