"""What a phone needs to put the app on its home screen and to open it without signal."""

import hashlib
from pathlib import Path

from fastapi import APIRouter
from fastapi.responses import Response
from starlette.exceptions import HTTPException

VERSION = "@version"
"""What stands in the worker's text for the digest of the static files."""


def digest_of(folder: Path) -> str:
    """Return a short digest of all files of a folder, which changes when any of them does."""
    digest = hashlib.sha256()
    for path in sorted(folder.iterdir()):
        if path.is_file():
            digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]


def shell_routes(static: Path) -> APIRouter:
    """Make the routes of the worker and the manifest, which have to lie at the root of the site."""
    router = APIRouter(include_in_schema=False)

    def asset(name: str, kind: str, version: str = "") -> Response:
        path = static / name
        if not path.is_file():
            raise HTTPException(404)
        text = path.read_text(encoding="utf-8").replace(VERSION, version or VERSION)
        return Response(text, media_type=kind, headers={"cache-control": "no-cache"})

    @router.get("/sw.js")
    def worker() -> Response:
        """Give the worker, whose text changes with the static files."""
        return asset("sw.js", "text/javascript", digest_of(static))

    @router.get("/app.webmanifest")
    def manifest() -> Response:
        """Give the manifest."""
        return asset("app.webmanifest", "application/manifest+json")

    return router
