"""Boards saved as one file, made up: filled, saved, forged and taken in."""

import io
import json
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

from PIL import Image

from service.store.opening import Store
from service.store.parcel import LIST
from service.store.parcel_in import TakenIn, open_parcel, take_in
from service.store.parcel_out import save_boards
from service.store.photos import Sent
from service.store.readings import Made
from service.store.rows import BoardTold
from tests.store.made_up import MIB, HandClock, answer, full_jpeg, sent
from tests.store.made_up import saved as picture_file

PICTURES = {"face_1": "<svg>face</svg>", "margin": "<svg>margin</svg>"}
MOST_BYTES = 64 * MIB


def fill(store: Store, device: str, clock: HandClock) -> list[str]:
    """Keep three boards on two days: one read, one photographed, one empty."""
    told = BoardTold("Heron", "Knotty\nat the end", "7.50", 2438.4, 38.1, 19.05, "1x2", "red oak", {"a": "b"}, "in")
    boards = [store.boards.add(device, told, date(2031, 5, 6)).id]
    for other in (replace(told, name="Otter", chosen=True), BoardTold()):
        clock.pass_by(minutes=1)
        boards.append(store.boards.add(device, other).id)
    store.boards.name_outing(device, store.boards.get(device, boards[0]).outing_id, "Mill yard", date(2031, 5, 6))
    for seed, (board, slot) in enumerate([(boards[0], "face_1"), (boards[0], "face_1"), (boards[1], "end")]):
        clock.pass_by(minutes=1)
        store.photos.add(device, board, sent(seed, slot=slot))
    store.photos.add(device, boards[0], Sent("edge_1", "full", "full.jpg", full_jpeg(7)))
    for kind in ("PNG", "WEBP"):
        store.photos.add(device, boards[1], Sent("close_face_2", kind, f"Birch {kind}", picture_file(kind, 5)))
    photos = [row.id for row in store.photos.all(device, boards[0])]
    store.readings.add(device, boards[0], Made(answer(), PICTURES, photos, "1.0"))
    clock.pass_by(minutes=1)
    return boards


def saved(store: Store, device: str) -> bytes:
    """Save all boards of a device."""
    return b"".join(save_boards(store, device))


def taken(store: Store, device: str, data: bytes, most_bytes: int = MOST_BYTES) -> TakenIn:
    """Take a file in."""
    with open_parcel(io.BytesIO(data), most_bytes) as parcel:
        return take_in(store, device, parcel, parcel.listed(), lambda *_: None)


def seen(store: Store, device: str) -> list[Any]:
    """Tell all there is of a device's boards but the ids."""
    days = {outing.id: (outing.name, outing.day) for outing in store.boards.outings(device)}
    told = []
    for board in store.boards.all(device):
        photos = store.photos.all(device, board.id)
        places = {row.id: place for place, row in enumerate(photos)}
        contents = [
            (row.slot, row.place, row.name, row.kind, row.created, store.photos.content(device, row.id)[1])
            for row in photos
        ]
        answers = [
            (
                reading.answer,
                reading.version,
                reading.created,
                [places.get(photo) for photo in reading.photos],
                {name: store.readings.picture(device, reading.id, name) for name in reading.pictures},
            )
            for reading in store.readings.all(device, board.id)
        ]
        told.append((days[board.outing_id], board.told, board.created, board.changed, contents, answers))
    return sorted(told, key=lambda one: one[1].name)


def forged(data: bytes, change: Callable[[dict[str, Any]], None], **contents: bytes) -> bytes:
    """Change the list of a file, and contents by their name's first letters."""
    changed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == LIST:
                listed = json.loads(content)
                change(listed)
                content = json.dumps(listed).encode()
            new.writestr(name, next((own for start, own in contents.items() if name.startswith(start)), content))
    return changed.getvalue()


def nothing(_: dict[str, Any]) -> None:
    """Change nothing."""


def noise() -> bytes:
    """Make a photo of some megabytes."""
    photo = io.BytesIO()
    Image.effect_noise((2000, 1500), 80).save(photo, "PNG")
    return photo.getvalue()
