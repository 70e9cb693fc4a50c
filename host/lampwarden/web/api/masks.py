"""A sheet's mask to print or to cut, in true scale."""

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query
from fastapi.responses import Response

from ...domain.chamber import Key
from ...errors import ProgramError, StoreError, UnknownName
from ...mask.geometry import Mask
from ...mask.layout import lay_out, parse_paper
from ...mask.svg import to_svg
from ...service import Service
from .problems import responses

SheetId = Annotated[Key, Path(description="Short name of the sheet.", examples=["ferry-timetable"])]
Paper = Annotated[str, Query(max_length=20, description="a4, letter, a3, a2, or width x height in mm: 320x450.")]
OpenAll = Annotated[bool, Query(description="Open covered cells too: a second mask, for photos only.")]
PDF, SVG = "application/pdf", "image/svg+xml"


def routes(service: Service) -> APIRouter:
    """The mask of a sheet, as PDF and as SVG."""
    router = APIRouter(tags=["Sheets"])

    def mask_of(sheet_id: str, paper: str, open_all: bool) -> Mask:
        return lay_out(service.sheet(sheet_id).sheet, parse_paper(paper), open_all=open_all)

    @router.get(
        "/sheets/{sheet_id}/mask.pdf", summary="The mask to print", response_class=Response, responses=_may(PDF)
    )
    def pdf(sheet_id: SheetId, paper: Paper = "a4", open_all: OpenAll = False) -> Response:
        """Print it at 100 %: the ruler on it must measure 100 mm."""
        from ...mask.pdf import to_pdf  # late: what is behind it makes the daemon larger

        return _file(to_pdf(mask_of(sheet_id, paper, open_all)), PDF, f"{sheet_id}-mask.pdf")

    @router.get("/sheets/{sheet_id}/mask.svg", summary="The mask to cut", response_class=Response, responses=_may(SVG))
    def svg(sheet_id: SheetId, paper: Paper = "a4", open_all: OpenAll = False) -> Response:
        """The same for a cutter, in millimetres."""
        return _file(to_svg(mask_of(sheet_id, paper, open_all)).encode(), SVG, f"{sheet_id}-mask.svg")

    return router


def _file(content: bytes, media: str, name: str) -> Response:
    return Response(content, media_type=media, headers={"content-disposition": f'attachment; filename="{name}"'})


def _may(media: str) -> dict[int | str, dict[str, Any]]:
    return {
        200: {"content": {media: {}}, "description": "The mask."},
        **responses(UnknownName, ProgramError, StoreError),
    }
