"""Part strips cut from drawn sides as if photographed: other light, noise, scale and place across each time."""

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from service.photo.join import Part
from service.photo.types import Strip
from tests.drawing import LOOKS, random_solid, side_texture

PX_PER_MM = 2.0
LENGTH_MM = 1200.0


@lru_cache(maxsize=12)
def side(seed: int, look: str = "pale") -> NDArray[np.float32]:
    """Draw face 1 of a made-up board flat, 2 pixels a millimetre."""
    solid = random_solid(seed, look=LOOKS[look], length_mm=LENGTH_MM)
    return np.asarray(0.15 + 0.7 * side_texture(solid, "face_1", PX_PER_MM), np.float32)


def cut(whole: NDArray[np.float32], from_mm: float, to_mm: float, seed: int = 0, scale: float = 1.0) -> Strip:
    """Cut a stretch out; it is lit anew, made noisy and seen `scale` times too long, counted from its own border."""
    rng = np.random.default_rng([seed, round(from_mm), 5])
    piece = whole[:, round(from_mm * PX_PER_MM) : round(to_mm * PX_PER_MM) + 1]
    cols = round((piece.shape[1] - 1) * scale) + 1
    piece = np.asarray(cv2.resize(piece, (cols, piece.shape[0]), interpolation=cv2.INTER_LINEAR), np.float32)
    along, across = np.linspace(-1, 1, cols), np.linspace(-1, 1, piece.shape[0])[:, None]
    light = rng.uniform(0.8, 1.1) * (1 + rng.uniform(-0.25, 0.25) * along + rng.uniform(-0.2, 0.2) * across)
    shadow = 1 - 0.4 / (1 + np.exp((np.abs(along - rng.uniform(-1, 1)) - 0.15) / 0.02))
    seen = piece * light * shadow + rng.normal(0, 0.015, piece.shape)
    return Strip(
        image=np.clip(seen, 0, 1).astype(np.float32),
        mm_per_px=1 / PX_PER_MM,
        from_mm=0.0,
        to_mm=(cols - 1) / PX_PER_MM,
        photo_px_per_mm=PX_PER_MM,
        scale_error=0.02,
        crook_positions_mm=np.zeros(0),
        crook_mm=np.zeros(0),
        sharpness=0.9,
    )


def part(
    whole: NDArray[np.float32], from_mm: float, to_mm: float, seed: int = 0, scale: float = 1.0, name: str | None = None
) -> Part:
    """Cut a stretch out as a photo of its own; the ends of the board are seen where it reaches them."""
    strip = cut(whole, from_mm, to_mm, seed, scale)
    own = name or f"{from_mm:.0f}.jpg"
    return Part(own, f"{own} {seed}", strip, from_mm <= 0, to_mm >= LENGTH_MM)


def half_turn(whole: NDArray[np.float32]) -> NDArray[np.float32]:
    """Turn a picture end for end."""
    return np.ascontiguousarray(whole[::-1, ::-1])
