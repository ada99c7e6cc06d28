"""Checks of single photos, made by a worker while the board is still in hand, and remembered while the app runs."""

import asyncio
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fastapi.concurrency import run_in_threadpool

from service.app.views.kept_board import hand_corners
from service.app.workers.readers import Progress, Workers
from service.asked import Corners
from service.checking import PhotoCheck, check
from service.errors import StavesightError
from service.language import language
from service.sides import BoardSize
from service.store.opening import Store
from service.store.rows import BoardTold, PhotoRow
from service.upload import Upload

MOST_KEPT: Final = 4000
"""Checks remembered; each takes about a kilobyte."""

LONGEST_SECONDS: Final = 15.0
"""How long a person waits for a check; a photo that takes longer is kept without one."""

Key = tuple[str, float | None, tuple[float, ...], Corners | None, str]


@dataclass(frozen=True)
class PhotoAsked:
    """A photo to check, what is known of the side in it, and the language in which it is told."""

    upload: Upload
    length_mm: float | None
    across_mm: tuple[float, ...]
    language: str


Checkers = Workers[PhotoAsked, PhotoCheck]


def check_asked(asked: PhotoAsked, _: Progress) -> PhotoCheck:
    """Check a photo; runs in a worker process."""
    return check(asked.upload, asked.length_mm, asked.across_mm, language=asked.language)


@dataclass(frozen=True)
class _Kept:
    """A kept photo that is fetched when its turn has come."""

    store: Store
    device: str
    photo: str
    key: Key

    async def wish(self) -> PhotoAsked:
        """Fetch it."""
        row, data = await run_in_threadpool(self.store.photos.content, self.device, self.photo)
        _, length_mm, across_mm, corners, language_tag = self.key
        return PhotoAsked(Upload(row.name, data, corners), length_mm, across_mm, language_tag)

    def close(self) -> None:
        """Hold nothing."""


class Checks:
    """What is known of single photos."""

    def __init__(self, workers: Checkers, store: Store) -> None:
        self._workers = workers
        self._store = store
        self._known: OrderedDict[Key, PhotoCheck] = OrderedDict()
        self._going_on: dict[Key, asyncio.Task[None]] = {}

    async def of(self, device: str, told: BoardTold, photo: PhotoRow) -> PhotoCheck | None:
        """Check a photo, unless that was done before; None for the end, or when the check takes too long."""
        checks = await self.several(device, told, [photo], LONGEST_SECONDS)
        return checks.get(photo.id)

    async def several(
        self, device: str, told: BoardTold, photos: Sequence[PhotoRow], seconds: float
    ) -> Mapping[str, PhotoCheck]:
        """Return the checks of photos by their ids; those that are not done in time are left out, but go on."""
        keys = {photo.id: _key(told, photo) for photo in photos if photo.slot != "end"}
        work = [self._begin(device, key) for key in keys.values() if key not in self._known]
        if work:
            await asyncio.wait(work, timeout=seconds)
        return {photo: self._known[key] for photo, key in keys.items() if key in self._known}

    async def stop(self) -> None:
        """End all checks."""
        work = list(self._going_on.values())
        for task in work:
            task.cancel()
        if work:
            await asyncio.wait(work)

    def _begin(self, device: str, key: Key) -> "asyncio.Task[None]":
        """Begin a check, or join the one of the same photo that is going on."""
        if key not in self._going_on:
            task = self._going_on[key] = asyncio.create_task(self._check(device, key))
            task.add_done_callback(lambda _: self._going_on.pop(key, None))
        return self._going_on[key]

    async def _check(self, device: str, key: Key) -> None:
        try:
            self._known[key] = await self._workers.read(_Kept(self._store, device, key[0], key))
        except StavesightError:
            return  # the photo is kept all the same, and is looked at again when its page is opened
        while len(self._known) > MOST_KEPT:
            self._known.popitem(last=False)


def _key(told: BoardTold, photo: PhotoRow) -> Key:
    corners = hand_corners(told, photo.slot)
    if told.length_mm is None or told.width_mm is None or told.thickness_mm is None:
        return photo.id, None, (), corners, language()
    size, side = BoardSize(told.length_mm, told.width_mm, told.thickness_mm), photo.slot.removeprefix("close_")
    # Told the length, a check looks for the whole side; a close-up shows a hand's length of it.
    length_mm = size.length_mm if photo.slot == side else None
    return photo.id, length_mm, (size.across_mm(side),), corners, language()
