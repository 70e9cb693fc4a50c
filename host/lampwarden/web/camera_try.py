"""The photo a chamber's camera took for a try, for the page Chamber."""

from collections.abc import Mapping

from fastapi import APIRouter
from fastapi.responses import JSONResponse, Response

_MAGIC = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"), (b"RIFF", "image/webp"))
"""Kinds that browsers show, by their first bytes."""


def routes(photos: Mapping[str, bytes]) -> APIRouter:
    """GET /test-photo/CHAMBER."""
    router = APIRouter()

    @router.get("/test-photo/{chamber_id}")
    def photo(chamber_id: str) -> Response:
        content = photos.get(chamber_id)
        if content is None:
            return JSONResponse({"detail": "No test photo was taken since the start."}, 404)
        kind = next((kind for magic, kind in _MAGIC if content.startswith(magic)), "application/octet-stream")
        return Response(content, media_type=kind, headers={"cache-control": "no-store"})

    return router
