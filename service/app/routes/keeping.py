"""What the routes of kept boards work with."""

import asyncio
from dataclasses import dataclass, field

from fastapi.responses import HTMLResponse, RedirectResponse

from service.app.routes.pages import Pages
from service.app.workers.checks import Checks
from service.app.workers.desk import Desk
from service.app.workers.stretches import Stretches
from service.settings import Settings
from service.store.opening import Store


@dataclass(frozen=True)
class Kept:
    """Settings, what is kept, and who writes, checks and reads.

    Attributes
    ----------
    making
        Held while a board is made, so that a button touched twice makes one board.
    """

    settings: Settings
    store: Store
    pages: Pages
    checks: Checks
    stretches: Stretches
    desk: Desk
    making: asyncio.Lock = field(default_factory=asyncio.Lock)

    def show(self, template: str, page: object, status: int = 200) -> HTMLResponse:
        """Write a page."""
        return HTMLResponse(self.pages.write(template, page), status)


def go_to(address: str) -> RedirectResponse:
    """Lead on after a form was taken."""
    return RedirectResponse(address, status_code=303)
