"""Made-up photos full of notes, boards, answers, and a store to keep them in."""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
from PIL import Image
from PIL.ExifTags import GPS, IFD, Base

from service.errors import StavesightError
from service.judge.record import Answer
from service.photo.types import Bytes
from service.reading import Upload, Wish
from service.settings import Settings
from service.sides import BoardSize
from service.store.opening import Store, open_store
from service.store.photos import Sent
from tests.app.standins import answer_for

MIB: Final = 2**20

#: What a made-up photo holds besides its picture; none of it may be kept.
SECRETS: Final = {
    "place": b"2031:05:06",
    "serial number": b"SERIAL-90417",
    "maker": b"Made-up Camera Works",
    "maker note": b"MAKERNOTE-77",
    "owner": b"Wilma Quill",
    "time": b"2031:05:07 08:09:10",
    "XMP": b"http://ns.adobe.com/xap/1.0/",
    "comment": b"bought behind the old mill",
    "profile": b"PROFILE-OF-COLOURS",
    "thumbnail": b"THUMBNAIL-BYTES",
    "second picture": b"SECOND-PICTURE",
    "film": b"FILM-AFTER-THE-END",
}


def pixels(seed: int = 1, rows: int = 48, cols: int = 80) -> Bytes:
    """Make a smooth made-up picture with some grain in it, shape (rows, cols, 3)."""
    chance = np.random.default_rng(seed)
    coarse = Image.fromarray(chance.integers(60, 200, (rows // 8, cols // 8, 3), dtype=np.uint8))
    smooth = np.asarray(coarse.resize((cols, rows), Image.Resampling.BICUBIC)).astype(np.int16)
    return np.asarray(np.clip(smooth + chance.integers(-6, 7, (rows, cols, 1)), 0, 255), dtype=np.uint8)


def notes(turned: int = 6, focal: int = 26) -> Image.Exif:
    """Make Exif notes as a phone writes them, with place, serial number, maker note and owner."""
    exif = Image.Exif()
    exif[Base.Orientation] = turned
    exif[Base.Make] = SECRETS["maker"].decode()
    exif[Base.Artist] = SECRETS["owner"].decode()
    block = exif.get_ifd(IFD.Exif)
    block[Base.FocalLengthIn35mmFilm] = focal
    block[Base.BodySerialNumber] = SECRETS["serial number"].decode()
    block[Base.MakerNote] = SECRETS["maker note"]
    block[Base.DateTimeOriginal] = SECRETS["time"].decode()
    block[Base.ExifImageWidth], block[Base.ExifImageHeight] = 80, 48
    place = exif.get_ifd(IFD.GPSInfo)
    place[GPS.GPSLatitudeRef], place[GPS.GPSLatitude] = "N", (12.0, 34.0, 56.0)
    place[GPS.GPSDateStamp] = SECRETS["place"].decode()
    return exif


def saved(kind: str, seed: int = 1, exif: Image.Exif | None = None, **how: Any) -> bytes:
    """Save a made-up picture with notes."""
    file = io.BytesIO()
    Image.fromarray(pixels(seed)).save(file, kind, exif=exif or notes(), **how)
    return file.getvalue()


def segment(marker: int, content: bytes) -> bytes:
    """Make a JPEG segment."""
    return bytes([0xFF, marker]) + (len(content) + 2).to_bytes(2, "big") + content


def full_jpeg(seed: int = 1, **how: Any) -> bytes:
    """Make a JPEG that holds every secret there is, before, between and after its scans."""
    plain = saved("JPEG", seed, quality=92, icc_profile=SECRETS["profile"], **how)
    before = (
        segment(0xE1, SECRETS["XMP"] + b"\0<x/>")
        + segment(0xE2, SECRETS["second picture"])
        + segment(0xE1, b"Exif\0\0" + SECRETS["thumbnail"])
        + segment(0xFE, SECRETS["comment"])
    )
    at = plain.index(b"\xff\xdb")
    last_scan = plain.rindex(b"\xff\xda")
    between = segment(0xFE, SECRETS["comment"]) + segment(0xEB, SECRETS["second picture"])
    return plain[:at] + before + plain[at:last_scan] + between + plain[last_scan:] + plain[:200] + SECRETS["film"]


def sent(seed: int = 1, key: str | None = None, slot: str = "face_1", name: str = "board.jpg") -> Sent:
    """Make a photo on its way in."""
    return Sent(slot, f"key-{seed}" if key is None else key, name, photo(seed))


@cache
def photo(seed: int) -> bytes:
    """Make a small photo, another one for every seed."""
    return saved("JPEG", seed)


@cache
def answer() -> Answer:
    """Make an answer for a made-up board."""
    return answer_for(Wish(BoardSize(2438.4, 38.1, 19.05), 1727.2, {"face_1": (Upload("a.jpg", b"x"),)}))


@dataclass
class HandClock:
    """A clock that goes on when told."""

    moment: datetime = field(default_factory=lambda: datetime.now(UTC))

    def __call__(self) -> datetime:
        """Tell the time."""
        return self.moment

    def pass_by(self, **time: float) -> None:
        """Let time pass."""
        self.moment += timedelta(**time)


@contextmanager
def a_store(folder: Path, clock: HandClock | None = None, **given: Any) -> Iterator[Store]:
    """Open a store in a folder, and close it."""
    store = open_store(Settings(data=str(folder), **given), clock or HandClock())
    try:
        yield store
    finally:
        store.close()


def files_in(folder: Path) -> list[str]:
    """Return the names of the contents that lie in a store's folder."""
    return sorted(path.name for path in (folder / "files").rglob("*") if path.is_file())


def says_what_to_do(error: StavesightError) -> bool:
    """Tell whether a refusal is a sentence that names a way out."""
    ways = ("Try again", "Delete", "send it", "Send", "look at", "Choose", "Start that version", "put back", "Shorten")
    return error.text.endswith(".") and any(way in error.text for way in ways)
