"""Corners that were set by hand in a kept photo, and what of the photo came sharp."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from service.app.views.kept_board import change_told
from service.asked import Corners
from service.photo.layout import Layout
from service.store.opening import Store
from service.store.rows import BoardTold

CUT: Final = "cut_"
"""Begins the name, ended by a photo's id, under which a board keeps the tiles of a photo that came as a stretch."""

PUT: Final = "put_"
"""Begins the name, ended by a side's, of corners that wait for the whole photo."""

NEAR_PX: Final = 8
"""Corners this far outside of the tiles still lie on ground that came sharp enough to see them."""


def corners_text(corners: Iterable[Sequence[float]]) -> str:
    """Write corners as they are typed.

    >>> corners_text([(210, 1480), (3890.4, 1462), (3888, 1610), (208, 1634)])
    '210,1480 3890,1462 3888,1610 208,1634'
    """
    return " ".join(f"{col:.0f},{row:.0f}" for col, row in corners)


def rectangle(cols: int, rows: int) -> Corners:
    """Return corners to begin with where no board was found: a slim one across the middle, as most are photographed.

    >>> rectangle(1000, 500)
    ((50.0, 230.0), (950.0, 230.0), (950.0, 270.0), (50.0, 270.0))
    >>> rectangle(500, 1000)[0]
    (230.0, 950.0)
    """
    begin, end, low, high = 0.05, 0.95, 0.46, 0.54
    if rows > cols:  # upright: the marked end lies at the bottom, the upper long corner on the left
        return (
            (round(low * cols, 1), round(end * rows, 1)),
            (round(low * cols, 1), round(begin * rows, 1)),
            (round(high * cols, 1), round(begin * rows, 1)),
            (round(high * cols, 1), round(end * rows, 1)),
        )
    return (
        (round(begin * cols, 1), round(low * rows, 1)),
        (round(end * cols, 1), round(low * rows, 1)),
        (round(end * cols, 1), round(high * rows, 1)),
        (round(begin * cols, 1), round(high * rows, 1)),
    )


def tiles_text(layout: Layout) -> str:
    """Write down which tiles of a photo came sharp.

    >>> from service.photo.layout import Tile
    >>> tiles_text(Layout(400, 300, (Tile(0, 16, 160, 64), Tile(160, 32, 240, 64))))
    '0,16,160,64 160,32,240,64'
    """
    return " ".join(f"{tile.left},{tile.top},{tile.cols},{tile.rows}" for tile in layout.tiles)


def came_sharp(told: BoardTold, photo: str, corners: Corners) -> bool:
    """Tell whether all of a side between four corners lies in the part of a photo that came sharp.

    >>> told = BoardTold(asked={"cut_a": "0,100,400,64"})
    >>> came_sharp(told, "a", ((9, 110), (390, 112), (390, 150), (9, 148)))
    True
    >>> came_sharp(told, "a", ((9, 110), (390, 40), (390, 80), (9, 148)))
    False
    >>> came_sharp(told, "sent whole", ((9, 110), (390, 40), (390, 80), (9, 148)))
    True
    """
    text = told.asked.get(f"{CUT}{photo}")
    if not text:
        return True
    tiles = [tuple(int(number) for number in tile.split(",")) for tile in text.split()]
    along = np.linspace(0.0, 1.0, 33)[:, None]
    upper_from, upper_to, lower_to, lower_from = np.array(corners, dtype=np.float64)
    points = np.concatenate(
        [start + along * (end - start) for start, end in ((upper_from, upper_to), (lower_from, lower_to))]
    )
    inside = np.zeros(len(points), dtype=bool)
    for left, top, cols, rows in tiles:
        low, high = (left - NEAR_PX, top - NEAR_PX), (left + cols + NEAR_PX, top + rows + NEAR_PX)
        inside |= ((points >= low) & (points <= high)).all(axis=1)
    return bool(inside.all())


def remember(store: Store, device: str, board: str, name: str, text: str) -> None:
    """Keep a text with a board that belongs to its photos."""
    change_told(store, device, board, lambda told: replace(told, asked={**told.asked, name: text}))


def forget(store: Store, device: str, board: str, *names: str) -> None:
    """Forget texts that belong to photos; those that are not there do not matter."""
    if not set(names).isdisjoint(store.boards.get(device, board).told.asked):
        change_told(
            store,
            device,
            board,
            lambda told: replace(told, asked={key: text for key, text in told.asked.items() if key not in names}),
        )
