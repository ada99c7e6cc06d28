"""A good photo spoiled in the ways people spoil photos, and photos that show something else."""

import io
from collections.abc import Callable
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.drawing import Scene, over_whole, photograph, random_camera, random_solid

Picture = NDArray[np.uint8]


def opened(data: bytes) -> Picture:
    """Decode a photo to red, green, blue."""
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


def saved(picture: Picture) -> bytes:
    """Save a picture as a JPEG."""
    data = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(picture)).save(data, "JPEG", quality=90)
    return data.getvalue()


def defocused(clear: Picture) -> Picture:
    """Blur a photo as a lens out of focus does."""
    return np.asarray(cv2.GaussianBlur(clear, (0, 0), 9))


def moved(clear: Picture) -> Picture:
    """Blur a photo as a moving hand does, across the board."""
    return np.asarray(cv2.blur(clear, (1, 31)))


def dark(clear: Picture) -> Picture:
    """Leave next to no light."""
    return np.asarray(clear * 0.02, np.uint8)


def burnt(clear: Picture) -> Picture:
    """Let in ten times the light."""
    return np.asarray(np.clip(clear.astype(float) * 10, 0, 255), np.uint8)


def tiny(clear: Picture) -> Picture:
    """Shrink to the size of a preview."""
    return np.asarray(cv2.resize(clear, None, fx=0.16, fy=0.16, interpolation=cv2.INTER_AREA))


def blank(clear: Picture) -> Picture:
    """Take a photo of the bare floor: the picture's lowest fifth, over and over."""
    strip = clear[-clear.shape[0] // 5 :]
    return np.ascontiguousarray(np.concatenate([strip[::step] for step in (1, -1, 1, -1, 1)]))


def fingered(clear: Picture) -> Picture:
    """Hold a finger before the lens, out of focus, from below to beyond the middle."""
    rows, cols = clear.shape[:2]
    cover = np.zeros((rows // 8, cols // 8), np.float32)
    cv2.line(cover, (cols // 16, rows // 16 - 20), (cols // 16 + 60, rows // 8 + 60), (1.0,), 100)
    soft = cv2.resize(cv2.GaussianBlur(cover, (0, 0), 9), (cols, rows))[..., None]
    return np.asarray(clear * (1 - soft) + np.array([190, 135, 110]) * soft, np.uint8)


#: Each fault with the code it is refused for.
FAULTS: Final[dict[str, tuple[Callable[[Picture], Picture], str]]] = {
    "defocused": (defocused, "blurred"),
    "moved": (moved, "blurred"),
    "dark": (dark, "too_dark"),
    "burnt": (burnt, "burnt_out"),
    "tiny": (tiny, "too_small"),
    "blank": (blank, "no_board"),
    "fingered": (fingered, "covered"),
}

#: Size of the board in `far` and `grazing`.
LENGTH_MM: Final = 1828.8


def far(seed: int) -> tuple[bytes, float]:
    """Photograph a face from five times the distance; returns the photo and the face's width in millimetres."""
    solid = random_solid(seed, length_mm=LENGTH_MM)
    return photograph(solid, "face_1", over_whole(LENGTH_MM, 0.18), Scene(seed=seed))[0], solid.width_mm


def grazing(seed: int) -> tuple[bytes, float]:
    """Photograph an edge nearly along its surface; returns the photo and the edge's width in millimetres."""
    solid = random_solid(seed, length_mm=LENGTH_MM)
    camera = random_camera(seed, solid, tilt_up_deg=66.0)
    return photograph(solid, "edge_1", camera, Scene(seed=seed))[0], solid.thickness_mm
