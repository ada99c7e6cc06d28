"""The board's stretch of a photo, found in a small preview and laid back again, by a worker process of its own."""

from dataclasses import dataclass

from service.app.readers import Progress, Workers
from service.errors import Unfinished
from service.photo.layout import Layout, read_layout
from service.photo.stretch import find_tiles, lay_back


@dataclass(frozen=True)
class Find:
    """A preview in which to find the board, and what is known of the side in it."""

    preview: bytes
    whole: Layout
    length_mm: float | None
    across_mm: tuple[float, ...]


@dataclass(frozen=True)
class Lay:
    """Tiles to lay back over their surroundings."""

    tiles: bytes
    around: bytes
    layout: Layout


Stretchers = Workers[Find | Lay, Layout | bytes | None]


def stretch_asked(asked: Find | Lay, _: Progress) -> Layout | bytes | None:
    """Find the tiles of a photo, or lay them back; runs in a worker process."""
    if isinstance(asked, Find):
        return find_tiles(asked.preview, asked.whole, asked.length_mm, asked.across_mm)
    return lay_back(asked.tiles, asked.around, asked.layout)


@dataclass(frozen=True)
class _Given:
    """What a worker is handed; it has arrived already."""

    asked: Find | Lay

    async def wish(self) -> Find | Lay:
        """Hand it over."""
        return self.asked

    def close(self) -> None:
        """Hold nothing."""


class Stretches:
    """Whoever finds stretches and lays them back."""

    def __init__(self, workers: Stretchers) -> None:
        self._workers = workers

    async def find(self, asked: Find) -> Layout | None:
        """Find the tiles that show the board; None when the whole photo is wanted.

        Raises
        ------
        BadInput, BadPhoto
            The preview does not fit its photo, or cannot be opened.
        Busy, Unfinished
            As `Workers.read`.
        """
        found = await self._workers.read(_Given(asked))
        return found if isinstance(found, Layout) else None

    async def lay_back(self, tiles: bytes, around: bytes, told: str) -> bytes:
        """Lay the tiles of a photo back where a phone tells, and return a picture of the photo's own size.

        Raises
        ------
        BadInput, BadPhoto
            They do not fit one another, or one of them cannot be opened.
        Busy, Unfinished
            As `Workers.read`.
        """
        laid = await self._workers.read(_Given(Lay(tiles, around, read_layout(told, tiled=True))))
        if not isinstance(laid, bytes):
            raise Unfinished("The photo could not be put together through a fault in the program. Send it once more.")
        return laid
