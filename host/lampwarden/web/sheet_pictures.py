"""Pictures of sheets for the page Sheets: taken in as JPEG bodies, given out by their hash."""

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response
from starlette.concurrency import run_in_threadpool

from ..errors import LampwardenError, PhotoRefused
from ..service import Service


def routes(service: Service) -> APIRouter:
    """POST /sheet-pictures and GET /sheet-pictures/HASH.jpg. The guard bounds the body and refuses foreign pages."""
    router = APIRouter()

    @router.post("/sheet-pictures")
    async def keep(request: Request) -> Response:
        try:
            name = await run_in_threadpool(service.keep_sheet_picture, await request.body())
        except PhotoRefused as error:
            return JSONResponse({"detail": str(error)}, 422)
        except LampwardenError as error:
            return JSONResponse({"detail": str(error)}, 507)
        return JSONResponse({"photo": name}, 201)

    @router.get("/sheet-pictures/{name}.jpg")
    def picture(name: str) -> Response:
        try:
            content = service.sheet_picture(name)
        except LampwardenError as error:
            return JSONResponse({"detail": str(error)}, 404)
        return Response(
            content, media_type="image/jpeg", headers={"cache-control": "private, max-age=31536000, immutable"}
        )

    return router
