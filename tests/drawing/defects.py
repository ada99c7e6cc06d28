"""Knots and wear of all kinds by chance: everything from one seed."""

from dataclasses import replace
from typing import Final, Literal

import numpy as np

from tests.drawing.solid import Knot, Solid
from tests.drawing.wear import Wear

Kind = Literal["tight", "loose", "pin"]

#: Tone, rim and halo, least and most, of each kind of knot: grown in, in its bark, thin twig.
_TONES: Final[dict[Kind, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]]] = {
    "tight": ((0.28, 0.55), (0.10, 0.30), (0.05, 0.25)),
    "loose": ((0.05, 0.35), (0.20, 0.50), (0.0, 0.12)),
    "pin": ((0.10, 0.40), (0.10, 0.30), (0.05, 0.20)),
}


def random_knots(solid: Solid, seed: int, count: int, kinds: tuple[Kind, ...] = ("tight", "loose")) -> Solid:
    """Put knots into a board, at least 60 mm apart: radii 3.2 to 9 mm, pins 1.2 to 2.2 mm.

    Branches grow out from the pith, so they run about across the rings.
    """
    rng = np.random.default_rng([seed, 61])
    normal = np.arctan2(solid.normal_yz[1], solid.normal_yz[0])
    taken: list[float] = []
    knots: list[Knot] = []
    while len(knots) < count:
        position = float(rng.uniform(0.03, 0.97) * solid.length_mm)
        if any(abs(position - other) < 60.0 for other in taken):
            continue
        taken.append(position)
        kind = kinds[rng.integers(len(kinds))]
        turn = normal + rng.normal(0, 0.25)
        tone, rim, halo = (float(rng.uniform(*span)) for span in _TONES[kind])
        knots.append(
            Knot(
                position,
                float(rng.uniform(0.0, 1.0) * solid.width_mm),
                float(rng.uniform(0.0, 1.0) * solid.thickness_mm),
                (float(np.cos(turn)), float(np.sin(turn))),
                float(rng.uniform(1.2, 2.2) if kind == "pin" else rng.uniform(3.2, 9.0)),
                tone,
                rim,
                halo,
            )
        )
    return replace(solid, knots=tuple(knots))


def random_wear(seed: int, *, sound: bool = False) -> Wear:
    """Choose what a side has seen; when `sound`, nothing that harms the wood (no checks, no bark)."""
    rng = np.random.default_rng([seed, 79])
    streaks, stains, stamps, dots, writing = (int(rng.poisson(mean)) for mean in (0.7, 0.7, 0.4, 0.15, 0.5))
    checks, bark = (int(rng.random() < chance) for chance in (0.25, 0.12))
    return Wear(streaks, stains, stamps, dots, writing, *((0, 0) if sound else (checks, bark)))
