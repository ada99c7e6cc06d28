"""A photo as it is kept: its picture, how it is turned, its focal length; not where or with what it was taken."""

import io
import struct
import warnings
from dataclasses import dataclass
from typing import Final

from PIL import Image

from service.errors import BadPhoto
from service.language import say
from service.photo.decode import (
    EXIF_BLOCK,
    FOCAL_35_TAG,
    FORMATS,
    MAX_BYTES,
    MAX_PIXELS,
    MID_GREY,
    ORIENTATION_TAG,
    open_photo,
)
from service.store.strip_chunks import strip_png, strip_webp
from service.store.strip_jpeg import strip_jpeg

WIDTH_TAG: Final = 0xA002
HEIGHT_TAG: Final = 0xA003

#: Quality and subsampling of photos that are coded anew; the error stays below two levels of brightness in the mean.
QUALITY: Final = 95
SUBSAMPLING: Final = 0

_SHORT: Final = 3  # TIFF 6.0: a field of 16 bits
_LONG: Final = 4  # of 32 bits


@dataclass(frozen=True)
class Stripped:
    """The bytes to keep, and what they are: jpeg, png or webp."""

    data: bytes
    kind: str


def strip_photo(data: bytes, name: str, max_bytes: int = MAX_BYTES, max_pixels: int = MAX_PIXELS) -> Stripped:
    """Take everything out of a photo that reading a board does not need.

    JPEG, PNG and WebP keep their compressed picture as it is, so its pixels are the same. HEIC, and moving WebP's first
    picture, are coded anew as JPEG, upright or turned as before.

    Parameters
    ----------
    data, name
        The file's bytes, and what the user calls it.
    max_bytes, max_pixels
        Limits, checked before anything is decoded.

    Returns
    -------
    Stripped
        Of the notes, only orientation, focal length in 35 mm film (rounded to whole millimetres) and the size in pixels
        remain, each where it was noted.

    Raises
    ------
    BadPhoto, TooLarge
        As `service.photo.decode.open_photo` does.
    """
    open_photo(data, name, max_bytes, max_pixels)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a damaged note in the file is no reason to refuse the picture
            image = Image.open(io.BytesIO(data), formats=FORMATS)
            tiff = _fresh_notes(*_notes(image))
            kept = _copied(image.format, data, tiff)
            return kept or Stripped(strip_jpeg(_coded_anew(image), _exif(tiff)), "jpeg")
    except (OSError, SyntaxError, ValueError, EOFError, MemoryError, RuntimeError, TypeError, struct.error) as error:
        raise BadPhoto(say("{photo} is damaged or breaks off. Please send the photo again.", photo=name)) from error


def _copied(kind: str | None, data: bytes, tiff: bytes) -> Stripped | None:
    """Keep the compressed picture as it is; None where that cannot be done."""
    if kind in ("JPEG", "MPO"):
        return Stripped(strip_jpeg(data, _exif(tiff)), "jpeg")
    if kind == "PNG":
        return Stripped(strip_png(data, tiff), "png")
    webp = strip_webp(data, tiff) if kind == "WEBP" else None
    return Stripped(webp, "webp") if webp is not None else None


def _coded_anew(image: Image.Image) -> bytes:
    """Code a picture as JPEG, transparent parts on mid grey, as `open_photo` lays them."""
    if image.has_transparency_data:
        back = Image.new("RGBA", image.size, (MID_GREY, MID_GREY, MID_GREY, 255))
        image = Image.alpha_composite(back, image.convert("RGBA"))
    coded = io.BytesIO()
    image.convert("RGB").save(coded, "JPEG", quality=QUALITY, subsampling=SUBSAMPLING)
    return coded.getvalue()


def _notes(image: Image.Image) -> tuple[int | None, dict[int, int]]:
    """Read how the picture is turned (1..8), and what else is kept, by tag; what is damaged counts as not noted."""
    try:
        exif = image.getexif()
        turned = exif.get(ORIENTATION_TAG)
        block = exif.get_ifd(EXIF_BLOCK)
        focal = float(block.get(FOCAL_35_TAG) or 0)
        size = {tag: block.get(tag) for tag in (WIDTH_TAG, HEIGHT_TAG)}
    except (OSError, SyntaxError, ValueError, TypeError, KeyError, ZeroDivisionError):
        return None, {}
    kept = {tag: value for tag, value in size.items() if isinstance(value, int) and 0 < value < 2**32}
    if 0.5 < focal < 2**16 - 1:
        kept[FOCAL_35_TAG] = round(focal)
    return (turned if isinstance(turned, int) and 1 <= turned <= 8 else None), kept


def _exif(tiff: bytes) -> bytes:
    return b"Exif\x00\x00" + tiff if tiff else b""


def _fresh_notes(turned: int | None, block: dict[int, int]) -> bytes:
    r"""Write the notes that are kept as TIFF (Exif 2.32, JEITA CP-3451): two blocks of 12-byte fields, nothing else.

    >>> len(_fresh_notes(6, {})), len(_fresh_notes(6, {FOCAL_35_TAG: 26})), _fresh_notes(None, {})
    (26, 56, b'')
    """
    if turned is None and not block:
        return b""
    first = [] if turned is None else [(ORIENTATION_TAG, turned)]
    start = 8
    if block:
        end = start + 2 + 12 * (len(first) + 1) + 4
        return _head(start) + _fields([*first, (EXIF_BLOCK, end)]) + _fields(sorted(block.items()))
    return _head(start) + _fields(first)


def _head(start: int) -> bytes:
    return b"II" + struct.pack("<HI", 42, start)


def _fields(entries: list[tuple[int, int]]) -> bytes:
    """Write one block of numbers, and that no other follows."""
    packed = [
        struct.pack("<HHIHH", tag, _SHORT, 1, value, 0)
        if tag in (ORIENTATION_TAG, FOCAL_35_TAG)
        else struct.pack("<HHII", tag, _LONG, 1, value)
        for tag, value in entries
    ]
    return struct.pack("<H", len(entries)) + b"".join(packed) + struct.pack("<I", 0)
