"""A hand that holds the board in a finished photo, or throws its shadow over it."""

from io import BytesIO
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

Array = NDArray[Any]

#: Skin as cameras store it: red, green, blue.
SKINS: Final = ((222, 176, 150), (196, 142, 112), (150, 103, 78), (96, 66, 52))
#: Widths of a thumb and of the back of a hand, millimetres.
_THUMB_MM, _HAND_MM = 22.0, 85.0


def _opened(jpeg: bytes) -> Array:
    return np.asarray(ImageOps.exif_transpose(Image.open(BytesIO(jpeg))).convert("RGB"), np.float32)


def _saved(picture: Array, jpeg: bytes) -> bytes:
    """Save a picture upright, with the notes of the first photo but for how it is turned."""
    exif = Image.open(BytesIO(jpeg)).getexif()
    exif[0x0112] = 1
    data = BytesIO()
    pixels = np.clip(picture + 0.5, 0, 255).astype(np.uint8)
    Image.fromarray(pixels).save(data, "JPEG", quality=92, exif=exif)
    return data.getvalue()


def _place(truth: dict[str, Any], share: float, above: bool) -> tuple[Array, Array, Array, float]:
    """Return a point on a long corner, the direction out of the board there and along it, and pixels per millimetre."""
    points = np.array(truth["outline_px"])
    half = len(points) // 2
    corners = points[:half], points[half:][::-1]
    own, other = corners if above else corners[::-1]
    at = int(np.clip(round(share * (half - 1)), 1, half - 2))
    outward = own[at] - other[at]
    along = own[at + 1] - own[at - 1]
    scale = float(np.mean(truth["px_per_in"])) / 25.4
    return own[at], outward / np.hypot(*outward), along / np.hypot(*along), scale


def _cover(shape: tuple[int, ...], lines: list[tuple[Array, Array, float]], blur_px: float) -> Array:
    """Paint thick round lines, blurred: float32, shape (rows, cols, 1), 0 to 1."""
    cover = np.zeros(shape[:2], np.float32)
    for begin, end, width in lines:
        ends = [tuple(round(8 * float(value)) for value in point) for point in (begin, end)]
        cv2.line(cover, ends[0], ends[1], (1.0,), max(1, round(width)), cv2.LINE_AA, 3)
    return np.asarray(cv2.GaussianBlur(cover, (0, 0), blur_px)[..., None])


def _fingers(truth: dict[str, Any], rng: np.random.Generator) -> list[tuple[Array, Array, float]]:
    """Lay a hand beside the board and its thumb over a long corner."""
    point, outward, along, scale = _place(truth, float(rng.uniform(0.15, 0.85)), bool(rng.random() < 0.5))
    points = np.array(truth["outline_px"])
    width = float(np.hypot(*(points[0] - points[-1])))
    reach = min(float(rng.uniform(0.3, 1.1)) * width, 45.0 * scale)
    wrist = point + outward * 320 * scale + along * float(rng.uniform(-80, 80)) * scale
    palm = point + outward * (10 + _HAND_MM / 2) * scale
    return [
        (palm, wrist, _HAND_MM * scale),
        (palm - 20 * along * scale, point - outward * reach - 15 * along * scale, _THUMB_MM * scale),
    ]


def hold(jpeg: bytes, truth: dict[str, Any], seed: int) -> bytes:
    """Let a hand hold the board: it lies beside a long corner, its thumb over it.

    Parameters
    ----------
    jpeg, truth
        As `photograph` hands them out.
    seed
        Decides where, from which side, and the skin.

    Returns
    -------
    bytes
        The photo, upright.
    """
    rng = np.random.default_rng([seed, 67])
    picture = _opened(jpeg)
    lines, skin = _fingers(truth, rng), np.array(SKINS[rng.integers(len(SKINS))], np.float32)
    cover = _cover(picture.shape, lines, 1.2)
    shade = _cover(picture.shape, [(begin + 12, end + 12, width) for begin, end, width in lines], 9.0)
    round_off = _cover(picture.shape, lines, 14.0)
    picture *= 1 - 0.45 * shade
    picture += cover * (skin * float(rng.uniform(0.75, 1.05)) * (0.55 + 0.45 * round_off) - picture)
    return _saved(picture, jpeg)


def shade(jpeg: bytes, truth: dict[str, Any], seed: int) -> bytes:
    """Let a hand with the phone throw its shadow over the board; parameters and result as of `hold`."""
    rng = np.random.default_rng([seed, 71])
    picture = _opened(jpeg)
    point, outward, along, scale = _place(truth, float(rng.uniform(0.2, 0.8)), bool(rng.random() < 0.5))
    arm = point + outward * 900 * scale + along * float(rng.uniform(-250, 250)) * scale
    phone = point - along * 40 * scale, point + along * 110 * scale
    lines = [(arm, point, 75 * scale), (*phone, 80 * scale)]
    picture *= 1 - float(rng.uniform(0.3, 0.55)) * _cover(picture.shape, lines, float(rng.uniform(3, 12)))
    return _saved(picture, jpeg)
