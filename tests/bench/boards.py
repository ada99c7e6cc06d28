"""Boards made up for the accuracy table: kinds of sawing and fibre, photos of whole sides and of parts."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

import numpy as np

from service.reading import Wish
from service.sides import SIDES, BoardSize
from service.upload import Upload
from tests.drawing import (
    LOOKS,
    Camera,
    Solid,
    over_part,
    over_parts,
    photograph,
    photograph_end,
    random_camera,
    random_scene,
    random_solid,
)

Photos = Literal["whole", "part"]
Kind = Literal["flat", "rift", "quarter", "strong spiral", "cathedral"]

KINDS: Final[tuple[Kind, ...]] = ("flat", "rift", "quarter", "strong spiral", "cathedral")
PHOTOS: Final[tuple[Photos, ...]] = ("whole", "part")

#: Spiral up to this is ordinary (1 in 60); the strong kind begins above it (1 in 28).
ORDINARY_SPIRAL, STRONG_SPIRAL = 1 / 60, (1 / 28, 1 / 10)
#: Ring normal from face 1's normal, degrees, least and most.
TILT_DEG: Final[Mapping[Kind, tuple[float, float]]] = {
    "flat": (4.0, 28.0),
    "rift": (32.0, 58.0),
    "quarter": (62.0, 88.0),
    "strong spiral": (2.0, 88.0),
    "cathedral": (0.0, 4.0),
}
#: Photos of a side, overlapping.
SHOTS: Final[Mapping[Photos, int]] = {"whole": 1, "part": 2}
#: Lengths: a whole side then shows 41 to 55 px per in, half of one about 100.
LENGTH_MM: Final[Mapping[Photos, tuple[float, float]]] = {"whole": (1780.0, 2300.0), "part": (1600.0, 1720.0)}
BOW_MM: Final = 1524.0
CLOSE_SIDES: Final = ("face_1", "edge_1")
#: Photos are 16 : 9, which phones offer besides 4 : 3: as good along the board, and less ground to draw.
FRAME: Final[Mapping[str, Any]] = {"cols": 4032, "rows": 2268}


@dataclass(frozen=True)
class Drawn:
    """A board and what the program is given of it."""

    solid: Solid
    wish: Wish


def make_solid(kind: Kind, photos: Photos, seed: int) -> Solid:
    """Make up a board of a kind; ring widths differ up to 3 : 1 within a look, a third have a knot or two."""
    rng = np.random.default_rng([seed, KINDS.index(kind), PHOTOS.index(photos), 53])
    look = list(LOOKS.values())[rng.integers(len(LOOKS))]
    look = replace(look, ring_width_mm=look.ring_width_mm * float(np.exp(rng.uniform(-0.55, 0.55))))
    if kind == "strong spiral":
        spiral = float(rng.choice([-1, 1]) * rng.uniform(*STRONG_SPIRAL))
    else:
        spiral = float(rng.uniform(-ORDINARY_SPIRAL, ORDINARY_SPIRAL))
    diagonal = (
        float(rng.choice([-1, 1]) * rng.uniform(0.02, 0.05)) if kind == "cathedral" else float(rng.uniform(-0.06, 0.06))
    )
    return random_solid(
        int(rng.integers(1 << 30)),
        look=look,
        tilt_deg=float(rng.uniform(*TILT_DEG[kind])),
        diagonal=diagonal,
        spiral=spiral,
        knots=int(rng.choice([0, 0, 1, 2])),
        length_mm=float(rng.uniform(*LENGTH_MM[photos])),
    )


def _cameras(solid: Solid, photos: Photos, seed: int) -> list[Camera]:
    if SHOTS[photos] == 1:
        return [random_camera(seed, solid, **FRAME)]
    rng = np.random.default_rng([seed, 59])
    held: dict[str, Any] = {
        "tilt_along_deg": float(rng.normal(0, 2.0)),
        "tilt_up_deg": float(rng.normal(0, 2.5)),
        "roll_deg": float(rng.normal(0, 1.0)),
        "bowing": float(rng.uniform(-0.008, 0.012)),
        **FRAME,
    }
    return over_parts(solid.length_mm, SHOTS[photos], **held)


def draw_board(kind: Kind, photos: Photos, seed: int) -> Drawn:
    """Draw a board's photos: four sides, two close-ups, the marked end."""
    solid = make_solid(kind, photos, seed)
    rng = np.random.default_rng([seed, KINDS.index(kind), PHOTOS.index(photos), 61])
    numbers = iter(rng.integers(1 << 30, size=64).tolist())
    place = random_scene(next(numbers))
    shared = {"ground": place.ground, "below_mm": place.below_mm, "place": place.seed}
    sides = {}
    for side in SIDES:
        cameras = _cameras(solid, photos, next(numbers))
        scenes = [random_scene(next(numbers), quality=int(rng.integers(75, 96)), **shared) for _ in cameras]
        shots = [photograph(solid, side, *both)[0] for both in zip(cameras, scenes, strict=True)]
        sides[side] = tuple(Upload(f"{side}_{shot}.jpg", data) for shot, data in enumerate(shots, start=1))
    close = {}
    for side in CLOSE_SIDES:
        scene = random_scene(next(numbers), ground="floor", below_mm=0.0)
        data, _ = photograph(solid, side, random_camera(next(numbers), solid, "close", **FRAME), scene)
        close[side] = (Upload(f"close_{side}.jpg", data),)
    turn: dict[str, Any] = dict(
        zip(("tilt_along_deg", "tilt_up_deg", "roll_deg"), rng.normal(0, 2.0, 3).tolist(), strict=True)
    )
    over_end = over_part(solid.width_mm / 2, solid.width_mm * 5.0, **turn)
    end, _ = photograph_end(solid, over_end, random_scene(next(numbers), portrait=False, ground="floor"))
    size = BoardSize(solid.length_mm, solid.width_mm, solid.thickness_mm)
    return Drawn(solid, Wish(size, BOW_MM, sides, close, Upload("end.jpg", end)))
