"""What sending the board's stretch alone saves, and what it costs: bytes and angles beside those of whole photos."""

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from service.board.assemble import board_grid
from service.photo.check import check_photo
from service.sides import SIDES
from service.sight import see_side
from service.upload import Upload
from tests.drawing import photograph, random_camera, random_scene, random_solid
from tests.photo.lighten import lighten

LENGTH_MM: Final = 2438.4
#: Boards drawn by chance on every ground, one photo a side; no test uses their seeds.
FIRST_SEED: Final = 7000


def print_stretch(boards: int) -> None:
    """Print a line for each photo, and the means."""
    print(f"{'photo':18s} {'whole kB':>9s} {'sent kB':>8s} {'share':>6s} {'angle, mean':>12s} {'said of it'}")
    shares, angles, wholes = [], [], 0
    for seed in range(FIRST_SEED, FIRST_SEED + boards):
        for name, whole, sent, apart_deg, said in _board(seed):
            shares.append(sent / whole)
            wholes += sent >= whole
            angles += [apart_deg] if math.isfinite(apart_deg) else []
            row = f"{name:18s} {whole / 1024:9.0f} {sent / 1024:8.0f} {sent / whole:6.0%} {apart_deg:10.3f} deg {said}"
            print(row, flush=True)
    print(f"bytes sent, mean share of a photo: {np.mean(shares):.0%} (target 15 %); {wholes} of {len(shares)} go whole")
    print(f"mean difference of the angle: {np.mean(angles):.3f} deg, median {np.median(angles):.3f} (target 0.05)")


def _board(seed: int) -> Iterator[tuple[str, int, int, float, str]]:
    """Measure a board's four photos: name, bytes whole and sent, mean difference of the angle, what the checks say."""
    solid, grid = random_solid(seed, length_mm=LENGTH_MM), board_grid(LENGTH_MM)
    for number, side in enumerate(SIDES):
        across = solid.across_mm(side)
        held, lit = random_camera(10 * seed + number, solid), random_scene(10 * seed + number)
        data, _ = photograph(solid, side, held, lit)
        light = lighten(data, LENGTH_MM, (across,))
        if light is None:
            yield f"{seed} {side}", len(data), len(data), math.nan, "the whole photo is wanted"
            continue
        photos = (data, light.laid_back())
        said = [[one.code for one in check_photo(one, side, LENGTH_MM, (across,)).problems] for one in photos]
        grains = [see_side((Upload(side, one),), LENGTH_MM, across, grid).grain for one in photos]
        angles = [np.degrees(np.arctan(grain.line)) for grain in grains if grain is not None]
        apart = float(np.nanmean(np.abs(angles[1] - angles[0]))) if len(angles) == 2 else math.nan
        words = "the same" if said[0] == said[1] else f"{said[0]} whole, {said[1]} cut"
        yield f"{seed} {side}", len(data), light.sent_bytes, apart, words
