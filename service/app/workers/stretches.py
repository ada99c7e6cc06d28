"""The board's stretch of a photo, found in a small preview and laid back again, by a worker process of its own."""

from collections import OrderedDict
from dataclasses import dataclass
from typing import Final

from service.app.workers.readers import Progress, Workers
from service.checking import PhotoCheck
from service.errors import Unfinished
from service.language import language, say, use_language
from service.photo.layout import Layout, read_layout
from service.photo.stretch import find_tiles, lay_back

SURE_REASONS: Final = frozenset({"blurred", "too_dark", "burnt_out", "too_small"})
"""Reasons to take a photo again that cast no doubt on where the board was found."""

MOST_DOUBTED: Final = 4000
"""Sides that are remembered to be sent whole."""


@dataclass(frozen=True)
class Find:
    """A preview in which to find the board, and what is known of the side in it."""

    preview: bytes
    whole: Layout
    length_mm: float | None
    across_mm: tuple[float, ...]
    language: str


@dataclass(frozen=True)
class Lay:
    """Tiles to lay back over their surroundings."""

    tiles: bytes
    around: bytes
    layout: Layout
    language: str


Stretchers = Workers[Find | Lay, Layout | bytes | None]


def stretch_asked(asked: Find | Lay, _: Progress) -> Layout | bytes | None:
    """Find the tiles of a photo, or lay them back; runs in a worker process."""
    with use_language(asked.language):
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


def is_doubtful(check: PhotoCheck | None) -> bool:
    """Tell whether the board was not found for sure, so that the whole photo may do better than a stretch of it."""
    if check is None or check.usable:
        return False
    return check.outline is None or any(reason.code not in SURE_REASONS for reason in check.reasons)


class Stretches:
    """Whoever finds stretches and lays them back, and which sides had better be sent whole while the app runs."""

    def __init__(self, workers: Stretchers) -> None:
        self._workers = workers
        self._doubted: OrderedDict[tuple[str, str], None] = OrderedDict()

    def doubted(self, board: str, slot: str) -> bool:
        """Tell whether a side's stretch did not do before."""
        return (board, slot) in self._doubted

    def doubt(self, board: str, slot: str) -> None:
        """Remember that a side's stretch did not do."""
        self._doubted[board, slot] = None
        while len(self._doubted) > MOST_DOUBTED:
            self._doubted.popitem(last=False)

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
        layout = read_layout(told, tiled=True)
        laid = await self._workers.read(_Given(Lay(tiles, around, layout, language())))
        if not isinstance(laid, bytes):
            raise Unfinished(
                say("The photo could not be put together through a fault in the program. Send it once more.")
            )
        return laid
