"""The page of metrics, at the address where Prometheus looks for it."""

from fastapi import APIRouter, Request, Response

from ..publishing.metrics import Metrics

PATH = "/metrics"


def routes(metrics: Metrics) -> APIRouter:
    """A plain function behind it: the framework runs it in a worker thread, for the disk may be slow."""
    router = APIRouter()

    @router.get(PATH)
    def page(request: Request) -> Response:
        body, media_type = metrics.render(request.headers.get("accept", ""))
        return Response(body, media_type=media_type)

    return router
