"""All routes of kept boards; each page has a module of its own."""

from fastapi import APIRouter

from service.app.answers import answer_routes
from service.app.board_pages import board_routes
from service.app.bow import bow_routes
from service.app.corner_pages import corner_routes
from service.app.finding import find_routes
from service.app.keeping import Kept
from service.app.new_boards import new_board_routes
from service.app.parcels import parcel_routes
from service.app.photos import photo_routes
from service.app.rack import rack_routes
from service.app.reading_routes import reading_routes
from service.app.sharing import share_routes
from service.app.side_pages import side_routes


def private_routes(kept: Kept) -> list[APIRouter]:
    """Make them; `/boards/new` and `/boards/next` come before those that take any board's id."""
    makers = (
        rack_routes,
        bow_routes,
        new_board_routes,
        board_routes,
        photo_routes,
        corner_routes,
        find_routes,
        reading_routes,
        answer_routes,
        side_routes,
        share_routes,
        parcel_routes,
    )
    return [make(kept) for make in makers]
