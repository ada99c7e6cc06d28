"""Boards, cameras and scenes by chance: everything from one seed."""

from dataclasses import replace
from typing import Any, Final

import numpy as np

from tests.drawing.camera import Camera, over_part, over_parts, over_whole
from tests.drawing.ground import GROUNDS
from tests.drawing.looks import LOOKS, Look
from tests.drawing.marks import Marks
from tests.drawing.photo import Scene
from tests.drawing.solid import Knot, Profile, Solid

#: Width and thickness in millimetres of the boards drawn by chance.
_SIZES: Final = ((38.1, 19.05), (63.5, 19.05), (88.9, 19.05), (50.8, 25.4))


def wavy(mean: float, wave: float, length_mm: float, rng: np.random.Generator) -> Profile:
    """Return a slope that wanders slowly about a mean along the board."""
    positions = np.arange(0.0, length_mm + 350.0, 350.0)
    slopes = mean + wave * rng.standard_normal(positions.size)
    return tuple((float(position), round(float(slope), 5)) for position, slope in zip(positions, slopes, strict=True))


def random_solid(
    seed: int,
    *,
    look: Look | None = None,
    tilt_deg: float | None = None,
    diagonal: float | None = None,
    spiral: float | None = None,
    knots: int = 0,
    length_mm: float = 2438.4,
) -> Solid:
    """Make up a board.

    Parameters
    ----------
    look
        The wood; by chance when left out.
    tilt_deg
        Angle between the ring normal and face 1's normal, 0 flat-sawn to 90 quarter-sawn.
    diagonal, spiral
        Mean slopes across the rings and within the ring surface.
    knots
        How many.
    """
    rng = np.random.default_rng([seed, 41])
    look = look or list(LOOKS.values())[rng.integers(len(LOOKS))]
    width, thickness = _SIZES[rng.integers(len(_SIZES))]
    tilt = np.radians(rng.uniform(0, 90) if tilt_deg is None else tilt_deg)
    out = np.array([np.sin(tilt) * rng.choice([-1, 1]), np.cos(tilt) * rng.choice([-1, 1])])
    diagonal = float(rng.uniform(-0.06, 0.06)) if diagonal is None else diagonal
    spiral = float(rng.uniform(-0.07, 0.07)) if spiral is None else spiral
    reach = rng.uniform(90.0, 260.0) + max(0.0, 1.4 * diagonal * length_mm)
    pith = np.array([width / 2, thickness / 2]) - reach * out
    branches = []
    for _ in range(knots):
        y, z = rng.uniform(0.15, 0.85) * width, rng.uniform(0.2, 0.8) * thickness
        branches.append(
            Knot(
                float(rng.uniform(0.1, 0.9) * length_mm),
                y,
                z,
                (float(out[0]), float(out[1])),
                float(rng.uniform(3.5, 8.0)),
            )
        )
    return Solid(
        seed=seed,
        length_mm=length_mm,
        width_mm=width,
        thickness_mm=thickness,
        pith_mm=(round(float(pith[0]), 1), round(float(pith[1]), 1)),
        diagonal=wavy(diagonal, 0.006, length_mm, rng),
        spiral=wavy(spiral, 0.003, length_mm, rng),
        knots=tuple(branches),
        crook_mm=round(float(rng.normal(0, 2.5)), 2),
        bow_mm=round(float(rng.normal(0, 2.5)), 2),
        look=look,
    )


def random_camera(seed: int, solid: Solid, shows: str = "whole", **changes: Any) -> Camera:
    """Hold the phone over a board as people do: `shows` "whole", "part" (about 40 in) or "close" (about 8 in)."""
    rng = np.random.default_rng([seed, 43])
    held = {
        "tilt_along_deg": float(rng.normal(0, 2.0)),
        "tilt_up_deg": float(rng.normal(0, 2.5)),
        "roll_deg": float(rng.normal(0, 1.0)),
        "bowing": float(rng.uniform(-0.008, 0.012)),
        "up_mm": float(rng.normal(0, 3.0)),
        **changes,
    }
    if shows == "whole":
        return over_whole(solid.length_mm, float(rng.uniform(0.88, 0.95)), **held)
    span = 1016.0 if shows == "part" else float(rng.uniform(180.0, 250.0))
    return over_part(float(rng.uniform(0.25, 0.75)) * solid.length_mm, span, **held)


def random_parts(seed: int, solid: Solid, shots: int, overlap: float = 0.25, **changes: Any) -> list[Camera]:
    """Hold one phone over a board from end to end, photo after photo, each a little otherwise; marked end first."""
    rng = np.random.default_rng([seed, 53])
    phone = {"bowing": float(rng.uniform(-0.008, 0.012)), "f35_mm": float(rng.choice([24.0, 26.0, 28.0])), **changes}
    return [
        replace(
            camera,
            along_mm=camera.along_mm + float(rng.normal(0, 0.01)) * solid.length_mm / shots,
            distance_mm=camera.distance_mm * float(rng.uniform(0.98, 1.04)),
            tilt_along_deg=float(rng.normal(0, 2.0)),
            tilt_up_deg=float(rng.normal(0, 2.5)),
            roll_deg=float(rng.normal(0, 1.0)),
            up_mm=float(rng.normal(0, 3.0)),
        )
        for camera in over_parts(solid.length_mm, shots, overlap, **phone)
    ]


def random_scene(seed: int, **changes: Any) -> Scene:
    """Choose ground, light and the marks on the wood."""
    rng = np.random.default_rng([seed, 47])
    chosen: dict[str, Any] = {
        "seed": seed,
        "ground": GROUNDS[rng.integers(len(GROUNDS))],
        "below_mm": float(rng.choice([0.0, 0.0, 400.0])),
        "marks": Marks(
            float(rng.uniform(0, 0.02)), *(bool(rng.random() < chance) for chance in (0.4, 0.4, 0.3, 0.4, 0.2))
        ),
        "light": float(rng.uniform(0.8, 1.1)),
        "uneven": float(rng.uniform(0.05, 0.25)),
        "tint": tuple(float(value) for value in 1 + rng.normal(0, 0.04, 3)),
        "shadow": bool(rng.random() < 0.25),
        "blur_px": float(rng.uniform(0.5, 1.0)),
        "noise": float(rng.uniform(0.006, 0.02)),
        "portrait": bool(rng.random() < 0.3),
        "orientation": int(rng.choice([1, 1, 3, 6, 8])),
        "quality": int(rng.integers(80, 96)),
    }
    return Scene(**(chosen | changes))
