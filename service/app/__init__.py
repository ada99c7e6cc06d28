"""The web app: pages and JSON API over the reading of boards; thin, and keeps nothing."""

from service.app.web import create_app

__all__ = ["create_app"]
