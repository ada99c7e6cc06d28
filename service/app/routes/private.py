"""All routes of kept boards; each page has a module of its own."""

from fastapi import APIRouter

from service.app.routes.answers import answer_routes
from service.app.routes.board import board_routes
from service.app.routes.bow import bow_routes
from service.app.routes.corners import corner_routes
from service.app.routes.finding import find_routes
from service.app.routes.keeping import Kept
from service.app.routes.new_boards import new_board_routes
from service.app.routes.parcels import parcel_routes
from service.app.routes.photos import photo_routes
from service.app.routes.rack import rack_routes
from service.app.routes.reading import reading_routes
from service.app.routes.sharing import share_routes
from service.app.routes.sides import side_routes


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
