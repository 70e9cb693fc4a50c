"""All colours of a session as CSV, for a spreadsheet or a script."""

from fastapi import APIRouter
from fastapi.responses import Response

from ...domain.reading import Way
from ...errors import NotNow, StoreError, UnknownName
from ...findings.conclude import Conclusions
from ...service import Service
from ..results_view import numbers
from .problems import responses
from .reading import ChamberId, SessionId

CSV = "text/csv; charset=utf-8"
MAY = {
    200: {"content": {CSV: {}}, "description": "The table."},
    **responses(UnknownName, NotNow, StoreError),
}


def routes(service: Service) -> APIRouter:
    """The colours of a session."""
    router = APIRouter(tags=["Photos"])

    @router.get(
        "/chambers/{chamber_id}/sessions/{session_id}/colours.csv", summary="All colours as CSV",
        response_class=Response, responses=MAY,
    )  # fmt: skip
    def colours(chamber_id: ChamberId, session_id: SessionId) -> Response:
        """A row a cell and reading: colour, uncertainty, dose, change, and whether it counts."""
        service.snapshot(chamber_id)
        looks = [*service.looks(session_id), *service.followed(session_id)]
        ways = {look.reading.way for look in looks if not look.reading.refused}
        found: dict[Way, Conclusions] = {way: service.conclusions(session_id, way) for way in ways}
        text = numbers.colours(session_id, service.sheet_of(session_id), looks, found)
        # The mark at the beginning tells spreadsheets that it is UTF-8.
        named = {"content-disposition": f'attachment; filename="{session_id}-colours.csv"'}
        return Response(("\ufeff" + text).encode(), media_type=CSV, headers=named)

    return router
