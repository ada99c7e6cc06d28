"""Plain drawn photos with an exactly known board, made with a few lines of arithmetic."""

from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from service.photo.types import Photo

Array = NDArray[np.float64]

WOOD = (0.78, 0.62, 0.42)
DARK_WOOD = (0.45, 0.30, 0.22)
FLOOR = (0.36, 0.37, 0.39)
#: Cameras store about the 2.2nd root of light (IEC 61966-2-1, sRGB, from memory).
GAMMA = 2.2


@dataclass(frozen=True)
class Drawn:
    """A board lying on a floor, drawn with its marked end on the left.

    Attributes
    ----------
    rows, cols
        Size of the picture.
    first, last
        Columns of the board's ends; beyond the picture when it is cut by the border.
    top, width, fall, taper, bend
        Row of the upper corner and rows to the lower one in the middle of the picture; rows that the board falls
        from the left to the right border, share by which it gets wider, rows by which its middle sags.
    wood, floor
        Red, green, blue, 0 to 1.
    strip
        Rows of the neighbouring side seen above the upper corner, a darker strip.
    boards
        Places of further boards: (first, last, rows below the upper corner, width).
    tape_px
        Blue tape at the marked end.
    grain, noise
        Strength of lines along the wood and of noise.
    shadow
        Whether a soft shadow lies across.
    blur_px, gain
        Standard deviation of the blur; factor on the stored brightness.
    """

    rows: int = 1200
    cols: int = 1600
    first: float = 90.0
    last: float = 1510.0
    top: float = 580.0
    width: float = 44.0
    fall: float = 0.0
    taper: float = 0.0
    bend: float = 0.0
    wood: tuple[float, float, float] = WOOD
    floor: tuple[float, float, float] = FLOOR
    strip: float = 0.0
    boards: tuple[tuple[float, float, float, float], ...] = ()
    tape_px: float = 0.0
    grain: float = 0.03
    noise: float = 0.012
    shadow: bool = False
    blur_px: float = 0.7
    gain: float = 1.0

    def upper(self, cols: Array) -> Array:
        """Row of the upper long corner at columns."""
        return self.middle(cols) - self.spread(cols) / 2

    def lower(self, cols: Array) -> Array:
        """Row of the lower long corner at columns."""
        return self.middle(cols) + self.spread(cols) / 2

    def middle(self, cols: Array) -> Array:
        """Row of the mid-line at columns."""
        place = cols / (self.cols - 1) - 0.5
        return self.top + self.width / 2 + self.fall * place + self.bend * (1 - 4 * place**2)

    def spread(self, cols: Array) -> Array:
        """Rows between the long corners at columns."""
        return self.width * (1 + self.taper * (cols / (self.cols - 1) - 0.5))


@lru_cache(maxsize=4)
def draw(scene: Drawn, seed: int = 1) -> Photo:
    """Draw a scene as an opened photo."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[0 : scene.rows, 0 : scene.cols].astype(np.float64)
    picture = np.empty((scene.rows, scene.cols, 3))
    picture[:] = light(scene.floor) * _blotches(scene, rng)[..., None]
    upper, lower = scene.upper(col), scene.lower(col)
    for first, last, below, width in scene.boards:
        _lay(picture, _cover(row, upper + below, upper + below + width) * _cover(col, first, last), light(scene.wood))
    length = _cover(col, scene.first, scene.last)
    if scene.strip:
        _lay(picture, _cover(row, upper - scene.strip, upper) * length, 0.4 * light(scene.wood))
    share = (row - upper) / (lower - upper)
    lines = 1 + scene.grain * (np.sin(19 * share + 0.004 * col) + np.sin(43 * share - 0.007 * col))
    wood = light(scene.wood) * lines[..., None]
    tape = _cover(col, scene.first, scene.first + scene.tape_px)[..., None] if scene.tape_px else 0.0
    _lay(picture, _cover(row, upper, lower) * length, wood * (1 - tape) + light((0.15, 0.35, 0.75)) * tape)
    if scene.shadow:
        picture *= 1 - 0.45 / (1 + np.exp((np.abs(col - 0.4 * scene.cols - 0.5 * row) - 120) / 12))[..., None]
    picture = np.maximum(cv2.GaussianBlur(picture, (0, 0), scene.blur_px), 0) ** (1 / GAMMA)
    picture += scene.noise * rng.standard_normal(picture.shape)
    return photo_of(np.clip(scene.gain * picture, 0, 1))


def light(colour: tuple[float, float, float]) -> Array:
    """Turn a colour as stored into amounts of light: those are what blur and part-covered pixels mix."""
    return np.array(colour) ** GAMMA


def _blotches(scene: Drawn, rng: np.random.Generator) -> Array:
    """Uneven floor, about 1."""
    rough = rng.standard_normal((scene.rows // 16 + 1, scene.cols // 16 + 1))
    return np.asarray(1 + 0.05 * cv2.resize(rough, (scene.cols, scene.rows), interpolation=cv2.INTER_CUBIC))


def _cover(place: Array, first: Array | float, last: Array | float) -> Array:
    """Share of each pixel that lies between two lines."""
    return np.clip(place - first + 0.5, 0, 1) * np.clip(last - place + 0.5, 0, 1)


def _lay(picture: Array, cover: Array, colour: Array) -> None:
    """Lay something over part of a picture."""
    picture += cover[..., None] * (colour - picture)


def photo_of(picture: Array, reduction: int = 4, focal_px: float | None = None) -> Photo:
    """Make an opened photo of red, green, blue, shape (rows, cols, 3)."""
    luma = np.round(255 * np.clip(picture @ np.array([0.299, 0.587, 0.114]), 0, 1)).astype(np.uint8)
    rows, cols = picture.shape[0] // reduction, picture.shape[1] // reduction
    part = picture[: rows * reduction, : cols * reduction]
    colour = part.reshape(rows, reduction, cols, reduction, 3).mean(axis=(1, 3)).astype(np.float32)
    return Photo("drawn", luma, colour, reduction, focal_px, "")


def turned(photo: Photo) -> Photo:
    """Turn a photo a quarter counter-clockwise: the left border goes to the bottom."""
    return replace(photo, luma=np.rot90(photo.luma).copy(), colour=np.rot90(photo.colour).copy())


def mirrored(photo: Photo, *, rows: bool = False, cols: bool = False) -> Photo:
    """Mirror a photo top to bottom, or left to right, or both (a half turn)."""
    steps = (slice(None, None, -1 if rows else 1), slice(None, None, -1 if cols else 1))
    return replace(photo, luma=photo.luma[steps].copy(), colour=photo.colour[steps].copy())
