"""How the woods look: made-up kinds, each after a family of hardwoods, none after a named board."""

from dataclasses import dataclass
from typing import Final, Literal

Colour = tuple[float, float, float]


@dataclass(frozen=True)
class Look:
    """What the eye sees of a wood.

    Attributes
    ----------
    name
        The kind.
    light, dark
        Red, green, blue, 0 to 1, of wood value 1 and of wood value 0.
    rings
        "diffuse": a thin dark line ends each ring; "ring": porous early wood, dense late wood;
        "fading": darkens slowly through the ring.
    ring_width_mm
        Mean width of a growth ring.
    ring_depth, pore_depth, streak_depth, ray_depth
        How much of the wood value rings, pores, streaks and rays take away, 0 to 1.
    pore_radius_mm
        Radius of a pore.
    ray_height_mm
        Height of a ray along the fibre.
    """

    name: str
    light: Colour
    dark: Colour
    rings: Literal["diffuse", "ring", "fading"]
    ring_width_mm: float
    ring_depth: float
    pore_depth: float
    streak_depth: float
    ray_depth: float
    pore_radius_mm: float
    ray_height_mm: float


#: Pale, diffuse-porous: faint ring lines, fine even texture, short ray flecks.
PALE: Final = Look("pale", (0.90, 0.79, 0.61), (0.45, 0.31, 0.18), "diffuse", 2.6, 0.26, 0.15, 0.09, 0.11, 0.06, 0.9)
#: Ring-porous with strong pores and tall rays.
OPEN: Final = Look("open", (0.82, 0.68, 0.50), (0.33, 0.22, 0.13), "ring", 2.4, 0.30, 0.50, 0.08, 0.18, 0.13, 6.0)
#: Dark, rings fading into each other, pores all over.
DARK: Final = Look("dark", (0.52, 0.36, 0.25), (0.16, 0.09, 0.06), "fading", 3.2, 0.38, 0.38, 0.12, 0.08, 0.11, 0.7)
#: Tan, ring-porous with thinner pores and strong streaks.
TAN: Final = Look("tan", (0.80, 0.64, 0.45), (0.36, 0.23, 0.13), "ring", 2.2, 0.28, 0.34, 0.10, 0.09, 0.10, 0.8)

LOOKS: Final = {look.name: look for look in (PALE, OPEN, DARK, TAN)}
