"""Boards in one file: the layout of a zip archive that one phone saves and another takes in.

    boards.json                        `Parcel`: what is told of each board, its photos and answers
    photos/<id>.jpg, .png or .webp     each photo as it is kept
    answers/<id>.json                  each answer's record
    pictures/<answer's id>/<name>.svg  its pictures

Whoever takes a file in looks up these names in it; no name of the file is ever used as a path.
"""

from collections import Counter
from collections.abc import Iterable
from datetime import date
from typing import Annotated, Final, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, model_validator

from service.store.rows import LONGEST, SLOTS, BoardTold

FORMAT: Final = "stavesight boards"
VERSION: Final = 1
"""Of the layout; it grows when an older program could not take the file in any more."""

LIST: Final = "boards.json"

MOST_BOARDS: Final = 20_000
MOST_PHOTOS: Final = 2000  # of a board
MOST_READINGS: Final = 2000  # of a board
MOST_PICTURES: Final = 40  # of an answer

_ENDINGS: Final = {"jpeg": "jpg", "png": "png", "webp": "webp"}

Id = Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
Name = Annotated[str, Field(max_length=LONGEST["name"])]
PictureName = Annotated[str, Field(pattern=rf"^[a-z0-9_]{{1,{LONGEST['slot']}}}$")]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class ParcelPhoto(_Part):
    """A photo of a board."""

    id: Id
    slot: Literal[SLOTS]  # type: ignore[valid-type]  # the slots are constants
    place: Annotated[int, Field(ge=0, le=100_000)]
    name: Name
    kind: Literal["jpeg", "png", "webp"]
    created: AwareDatetime

    @property
    def path(self) -> str:
        """Its name in the archive."""
        return f"photos/{self.id}.{_ENDINGS[self.kind]}"


class ParcelReading(_Part):
    """An answer of a board; some of its photos may be deleted since."""

    id: Id
    photos: Annotated[tuple[Id, ...], Field(max_length=MOST_PHOTOS)]
    pictures: Annotated[tuple[PictureName, ...], Field(max_length=MOST_PICTURES)]
    version: Annotated[str, Field(max_length=LONGEST["version"])]
    created: AwareDatetime

    @property
    def path(self) -> str:
        """The name of its record in the archive."""
        return f"answers/{self.id}.json"

    def picture_path(self, name: str) -> str:
        """Return the name of a picture in the archive."""
        return f"pictures/{self.id}/{name}.svg"


class ParcelBoard(_Part):
    """A board, the day it was looked at and what that outing was called."""

    id: Id
    day: date
    outing: Name
    told: BoardTold
    created: AwareDatetime
    changed: AwareDatetime
    photos: Annotated[tuple[ParcelPhoto, ...], Field(max_length=MOST_PHOTOS)]
    readings: Annotated[tuple[ParcelReading, ...], Field(max_length=MOST_READINGS)]


class ParcelHead(BaseModel):
    """What tells such a file, of this version or another, from any other."""

    format: Literal["stavesight boards"]
    version: int


class Parcel(_Part):
    """All boards of a phone."""

    format: Literal["stavesight boards"] = FORMAT
    version: Literal[1] = VERSION
    saved: AwareDatetime
    boards: Annotated[tuple[ParcelBoard, ...], Field(max_length=MOST_BOARDS)]

    @model_validator(mode="after")
    def _name_each_once(self) -> "Parcel":
        """Refuse a list that names a board, a photo, an answer or a picture twice, so that no content is read twice."""
        photos = (photo.id for board in self.boards for photo in board.photos)
        readings = [reading for board in self.boards for reading in board.readings]
        pictures = (reading.picture_path(name) for reading in readings for name in reading.pictures)
        for ids in (photos, (reading.id for reading in readings), pictures, (board.id for board in self.boards)):
            if _twice(ids):
                raise ValueError("something is named twice")
        return self


def _twice(ids: Iterable[str]) -> bool:
    return any(times > 1 for times in Counter(ids).values())
