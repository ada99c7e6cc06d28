"""The web app: pages and JSON API over the reading of boards, and over the boards a phone keeps; thin."""

from service.app.web import create_app

__all__ = ["create_app"]
