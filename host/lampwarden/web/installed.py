"""What makes the dashboard an app where a browser allows that: its description, and a worker for when the host is gone.

Open to everybody who gets here: browsers ask for these without signing in, and nothing of a chamber is in them.
"""

from hashlib import sha256

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, JSONResponse, Response

from .pages.shell import ASSETS

ICONS = {
    "/assets/icon.svg": {"sizes": "any", "type": "image/svg+xml", "purpose": "any"},
    "/assets/icon-192.png": {"sizes": "192x192", "type": "image/png", "purpose": "any"},
    "/assets/icon-512.png": {"sizes": "512x512", "type": "image/png", "purpose": "any"},
    "/assets/icon-full-512.png": {"sizes": "512x512", "type": "image/png", "purpose": "maskable"},
}
"""By address; the pictures are made of the first one by tests/pages/icons.py."""
MANIFEST, WORKER, UNREACHABLE = "/manifest.webmanifest", "/worker.js", "/unreachable"
OPEN = frozenset((MANIFEST, WORKER, UNREACHABLE, *ICONS))
"""May be fetched without signing in."""


def manifest(title: str) -> dict[str, object]:
    """The description of the app (W3C Web Application Manifest)."""
    return {
        "id": "/",
        "name": title,
        "short_name": "Lampwarden",
        "description": "Minds a light-treatment chamber for aged printed paper.",
        "lang": "en",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f5f0e6",
        "theme_color": "#f5f0e6",
        "icons": [{"src": address, **about} for address, about in ICONS.items()],
    }


def routes(title: str) -> APIRouter:
    """The three addresses."""
    router = APIRouter()
    # The one page that is kept needs its style within it.
    page = (ASSETS / "installed" / "unreachable.html").read_text(encoding="utf-8")
    page = page.replace("{css}", (ASSETS / "page.css").read_text(encoding="utf-8"))
    script = (ASSETS / "installed" / "worker.js").read_text(encoding="utf-8")
    # Another text is another worker for a browser, and another mark makes it fetch the page anew.
    script = script.replace("{mark}", sha256((page + script).encode()).hexdigest()[:12])

    @router.get(MANIFEST)
    def app_manifest() -> JSONResponse:
        return JSONResponse(manifest(title), media_type="application/manifest+json")

    @router.get(WORKER)
    def worker() -> Response:
        return Response(script, media_type="text/javascript", headers={"cache-control": "no-cache"})

    @router.get(UNREACHABLE)
    def unreachable() -> HTMLResponse:
        return HTMLResponse(page)

    return router
