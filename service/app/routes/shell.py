"""What a phone needs to put the app on its home screen and to open it without signal."""

import hashlib
from pathlib import Path

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response
from starlette.exceptions import HTTPException

from service.app.requests.static_files import slim
from service.app.routes.pages import Pages

VERSION = "@version"
"""What stands in the worker's text for the digest of the static files."""

FILES = '"@files"'
"""What stands in it for their names."""

KINDS = frozenset({".css", ".js", ".svg", ".html"})
"""Endings of the files that pages use; pictures for the home screen are kept by the phone itself."""

WORKER = "sw.js"


def digest_of(folder: Path) -> str:
    """Return a short digest of all files of a folder, which changes when any of them does."""
    digest = hashlib.sha256()
    for path in sorted(folder.iterdir()):
        if path.is_file():
            digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]


def worker_text(folder: Path) -> str:
    """Write the worker for a folder of static files: which there are, and their digest."""
    names = sorted(path.name for path in folder.iterdir() if path.suffix in KINDS and path.name != WORKER)
    text = slim((folder / WORKER).read_text(encoding="utf-8"))
    return text.replace(VERSION, digest_of(folder)).replace(FILES, ", ".join(f'"{name}"' for name in names))


def shell_routes(static: Path, pages: Pages) -> APIRouter:
    """Make the routes of the worker and the manifest, which have to lie at the root, and of the worker's own page."""
    router = APIRouter(include_in_schema=False)

    def asset(text: str, kind: str) -> Response:
        return Response(text, media_type=kind, headers={"cache-control": "no-cache"})

    @router.get("/sw.js")
    def worker() -> Response:
        """Give the worker, whose text changes with the static files."""
        if not (static / WORKER).is_file():
            raise HTTPException(404)
        return asset(worker_text(static), "text/javascript")

    @router.get("/app.webmanifest")
    def manifest() -> Response:
        """Give the manifest."""
        path = static / "app.webmanifest"
        if not path.is_file():
            raise HTTPException(404)
        return asset(path.read_text(encoding="utf-8"), "application/manifest+json")

    @router.get("/no-signal")
    def no_signal() -> HTMLResponse:
        """Give the page that the worker shows in place of those it does not have."""
        return HTMLResponse(pages.write("no_signal.html", None))

    return router
