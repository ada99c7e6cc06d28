"""Photo bytes to an upright picture: full-size brightness and a small colour picture."""

import hashlib
import io
import math
import warnings
from collections.abc import Callable
from typing import Any, Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError
from pillow_heif import register_heif_opener
from simplejpeg import decode_jpeg

from service.errors import BadPhoto, TooLarge
from service.language import say
from service.photo.types import Bytes, Float, Photo

#: Most bytes and pixels accepted when the caller names no other limit.
MAX_BYTES: Final = 40 * 1024 * 1024
MAX_PIXELS: Final = 60_000_000

#: Formats that phones write; nothing else is handed to a decoder.
FORMATS: Final = ("JPEG", "PNG", "WEBP", "HEIF")

#: The colour picture is this many times smaller than the full one; JPEG can decode to an eighth cheaply.
REDUCTION: Final = 8
#: Below this many pixels on the short side a photo keeps a finer colour picture.
SMALL_SIDE_PX: Final = 1200

#: Diagonal of a 36 x 24 mm film frame; CIPA DCG-001 relates 35 mm equivalents to the diagonal (from memory).
FILM_DIAGONAL_MM: Final = 43.267

ORIENTATION_TAG: Final = 0x0112
EXIF_BLOCK: Final = 0x8769
FOCAL_35_TAG: Final = 0xA405

#: What transparent pixels are laid on.
MID_GREY: Final = 128

register_heif_opener(thumbnails=False)
# Size is checked here, against the caller's own limit and before any pixel is decoded; Pillow's own
# check would warn or raise at sizes of its choosing.
Image.MAX_IMAGE_PIXELS = None

#: EXIF orientation (TIFF 6.0, tag 274) to the turn that puts the picture upright.
TURNS: Final[dict[int, Callable[[NDArray[Any]], NDArray[Any]]]] = {
    1: lambda pixels: pixels,
    2: lambda pixels: cv2.flip(pixels, 1),
    3: lambda pixels: cv2.rotate(pixels, cv2.ROTATE_180),
    4: lambda pixels: cv2.flip(pixels, 0),
    5: cv2.transpose,
    6: lambda pixels: cv2.rotate(pixels, cv2.ROTATE_90_CLOCKWISE),
    7: lambda pixels: cv2.rotate(cv2.transpose(pixels), cv2.ROTATE_180),
    8: lambda pixels: cv2.rotate(pixels, cv2.ROTATE_90_COUNTERCLOCKWISE),
}


def open_photo(
    data: bytes, name: str, max_bytes: int = MAX_BYTES, max_pixels: int = MAX_PIXELS, halved: bool = False
) -> Photo:
    """Open a JPEG, PNG, WebP or HEIC photo, upright.

    Colour profiles are ignored, transparent parts are laid on mid grey, 16-bit pictures are read
    to 8 bits like the others. The name is only for messages: the content decides the format.

    Parameters
    ----------
    data, name
        The file's bytes, and what the user calls it.
    max_bytes, max_pixels
        Limits, checked before anything is decoded.
    halved
        Open a large JPEG at half its size, which is quicker; others are opened as they are. `Photo.halving` tells.

    Returns
    -------
    Photo
        `focal_px` comes from the focal length in 35 mm film noted by the camera, taken against the
        diagonal of the frame: focal_px = diagonal_px * focal_35_mm / 43.267.

    Raises
    ------
    TooLarge
        More bytes or pixels than allowed.
    BadPhoto
        No bytes, no picture, or a picture that breaks off.
    """
    if not data:
        raise BadPhoto(say("{photo} is empty. Please send the photo again.", photo=name))
    if len(data) > max_bytes:
        text = say(
            "{photo} has {megabytes} MB; at most {most} MB are accepted. Please send it smaller.",
            photo=name,
            megabytes=f"{len(data) / 2**20:.1f}",
            most=f"{max_bytes / 2**20:.0f}",
        )
        raise TooLarge(text)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a damaged note in the file is no reason to refuse the picture
            image = Image.open(io.BytesIO(data), formats=FORMATS)
            _check_size(image, name, max_pixels)
            orientation, focal_35_mm = _notes(image)
            luma, colour, reduction = _pixels(image, data, orientation, halved)
    except UnidentifiedImageError as error:
        text = say("{photo} is no photo this program can open. Please send JPEG, PNG, WebP or HEIC.", photo=name)
        raise BadPhoto(text) from error
    except (OSError, SyntaxError, ValueError, EOFError, MemoryError, RuntimeError, TypeError) as error:
        text = say("{photo} is damaged or breaks off. Please send the photo again.", photo=name)
        raise BadPhoto(text) from error
    halving = 2 if max(image.size) > max(luma.shape) else 1
    focal_px = math.hypot(*luma.shape) * focal_35_mm / FILM_DIAGONAL_MM if focal_35_mm else None
    return Photo(name, luma, colour, reduction, focal_px, hashlib.sha256(data).hexdigest(), halving)


def _check_size(image: Image.Image, name: str, max_pixels: int) -> None:
    """Refuse a picture by the size it claims."""
    width, height = image.size
    if width * height > max_pixels:
        text = say(
            "{photo} has {width} x {height} pixels; at most {most} megapixels are accepted. Please send it smaller.",
            photo=name,
            width=width,
            height=height,
            most=f"{max_pixels / 1e6:.0f}",
        )
        raise TooLarge(text)
    if min(width, height) < 1:
        raise BadPhoto(say("{photo} has no pixels. Please send the photo again.", photo=name))


def _notes(image: Image.Image) -> tuple[int, float | None]:
    """Read the camera's notes: how the picture is turned (1..8), and its focal length in 35 mm film."""
    try:
        exif = image.getexif()
        orientation = exif.get(ORIENTATION_TAG, 1)
        focal = exif.get_ifd(EXIF_BLOCK).get(FOCAL_35_TAG)
        focal_35_mm = float(focal) if focal else 0.0
    except (OSError, SyntaxError, ValueError, TypeError, KeyError, ZeroDivisionError):
        return 1, None
    known = orientation if orientation in range(1, 9) else 1
    return known, focal_35_mm if 5.0 < focal_35_mm < 1000.0 else None


def _pixels(image: Image.Image, data: bytes, orientation: int, halved: bool) -> tuple[Bytes, Float, int]:
    """Decode to upright brightness and small colour, and say how much smaller."""
    reduction = REDUCTION
    while reduction > 1 and min(image.size) < SMALL_SIDE_PX * reduction // REDUCTION:
        reduction //= 2
    turn = TURNS[orientation]
    if image.format in ("JPEG", "MPO") and image.mode in ("RGB", "L"):
        if halved and reduction == REDUCTION and min(image.size) >= 2 * SMALL_SIDE_PX:
            half = _jpeg(data, image.size, "RGB", 2)
            luma = np.asarray(cv2.cvtColor(half, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
            return turn(luma), _float(turn(_shrink(half, reduction // 2))), reduction // 2
        # Brightness alone, and colour straight at its small size, are each cheaper than full colour.
        colour = _jpeg(data, image.size, "RGB", reduction)
        return turn(_jpeg(data, image.size, "GRAY", 1)), _float(turn(colour)), reduction
    if image.mode.startswith("I"):
        luma = np.clip(turn(np.asarray(image)) / np.float32(257) + np.float32(0.5), 0, 255).astype(np.uint8)
        return luma, np.repeat(_float(_shrink(luma, reduction))[..., None], 3, axis=2), reduction
    full = turn(_on_grey(image))
    luma = np.asarray(cv2.cvtColor(full, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    return luma, _float(_shrink(full, reduction)), reduction


def _jpeg(data: bytes, size: tuple[int, int], mode: Literal["GRAY", "RGB"], smaller: int) -> Bytes:
    """Decode a JPEG of the given (cols, rows), 1, 2, 4 or 8 times smaller; blocks cut by the border are left out."""
    cols, rows = size[0] // smaller, size[1] // smaller
    try:
        pixels = decode_jpeg(data, mode, min_height=rows, min_width=cols, min_factor=smaller)
    except ValueError:
        # Strays between the parts of a file are an error to the quick decoder; the patient one minds only what is lost.
        image = Image.open(io.BytesIO(data), formats=("JPEG",))
        image.draft("L" if mode == "GRAY" else mode, (cols, rows))
        pixels = np.atleast_3d(np.asarray(image.convert("L" if mode == "GRAY" else mode), dtype=np.uint8))
    return np.asarray(pixels[:rows, :cols, 0] if mode == "GRAY" else pixels[:rows, :cols], dtype=np.uint8)


def _on_grey(image: Image.Image) -> Bytes:
    """Convert to 8-bit red, green, blue, shape (rows, cols, 3), transparent parts on mid grey."""
    if image.mode in ("RGBA", "LA", "PA", "RGBa", "La") or "transparency" in image.info:
        back = Image.new("RGBA", image.size, (MID_GREY, MID_GREY, MID_GREY, 255))
        image = Image.alpha_composite(back, image.convert("RGBA"))
    return np.asarray(image.convert("RGB"), dtype=np.uint8)


def _shrink(pixels: Bytes, reduction: int) -> Bytes:
    """Average blocks of `reduction` x `reduction` pixels; a last cut block is left out."""
    rows, cols = pixels.shape[0] // reduction, pixels.shape[1] // reduction
    whole = pixels[: rows * reduction, : cols * reduction]
    return np.asarray(cv2.resize(whole, (cols, rows), interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _float(pixels: Bytes) -> Float:
    """Scale 8-bit values to float32, 0 to 1."""
    return np.multiply(pixels, np.float32(1 / 255), dtype=np.float32)
