"""The found section against a plain search written from the rules alone, with loops and no lattice."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.board.types import BoardReading
from service.judge.judge import judge
from service.sides import EDGES, FACES, SIDES
from tests.judge.made import angle_of, bump, change_side, make_reading

BOW_MM = 900.0
LENGTH_MM = 1219.2
SHARE_ROOM = 0.03
"""How much more of a limit the found section may use: equal sections are told apart by 0.1 points, 0.01 to 0.02
of a limit, and the two searches look at places up to 3 mm apart."""


def plain_share(reading: BoardReading, start_mm: float, back: str) -> float:
    """Return the largest share of a limit that a section uses, by the rules, one place after another."""
    belly = FACES[1 - FACES.index(back)]
    grid_mm = reading.positions_mm
    dense_mm = np.arange(start_mm, start_mm + BOW_MM + 0.5, 1.0)
    slope = {}
    for name in SIDES:
        side = reading.sides[name]
        chord = np.diff(np.interp([start_mm, start_mm + BOW_MM], grid_mm, side.crook_mm))[0] / BOW_MM
        turn = np.gradient(np.interp(dense_mm, grid_mm, side.crook_mm), dense_mm)
        slope[name] = np.tan(np.radians(np.interp(dense_mm, grid_mm, side.angle_deg))) + turn - chord
    worst = 0.0
    for first in range(0, dense_mm.size - 76, 4):
        mean = {name: abs(float(slope[name][first : first + 77].mean())) for name in SIDES}
        edge = max(mean[name] for name in EDGES)
        worst = max(worst, 20.0 * math.hypot(mean[back], edge), 12.0 * math.hypot(mean[belly], edge))
    return worst


def wavy_reading(seed: int, crook_mm: float) -> BoardReading:
    """Make up a board whose four sides differ, with hills of slope and a crook."""
    rng = np.random.default_rng(seed)
    reading = make_reading(length_mm=LENGTH_MM)
    share = reading.positions_mm / LENGTH_MM
    arc_mm = 4.0 * crook_mm * share * (1.0 - share)
    crooks = {"face_1": arc_mm, "edge_1": -0.5 * arc_mm, "face_2": -arc_mm, "edge_2": 0.5 * arc_mm}
    for name in SIDES:
        slope = rng.uniform(-0.03, 0.03) + sum(
            bump(reading.positions_mm, rng.uniform(0, LENGTH_MM), rng.uniform(60, 200), rng.uniform(-0.04, 0.04))
            for _ in range(3)
        )
        reading = change_side(reading, name, angle_deg=angle_of(slope), crook_mm=crooks[name])
    return reading


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**9))
def test_found_section_is_never_worse_than_a_plain_search(seed: int) -> None:
    """No start and no way round, of all tried in loops, uses less of the limits than the section found."""
    reading = wavy_reading(seed, crook_mm=2.0 * (seed % 3))
    # With so wide an error hardly a board fails, and nearly all have a section to compare.
    for name in SIDES:
        reading = change_side(reading, name, angle_error_deg=np.full(reading.positions_mm.shape, 3.0))
    answer = judge(reading, BOW_MM)
    best = min(
        plain_share(reading, start_mm, back) for start_mm in np.arange(0.0, LENGTH_MM - BOW_MM, 6.0) for back in FACES
    )

    if answer.section is None:
        # What fails is past a limit by more than the error, 0.05, which is the whole limit of the back.
        assert best > 1.5
        return
    assert answer.back is not None
    # Within the error of the reading the back may be the face that uses more of its limit.
    assert min(plain_share(reading, answer.section.start_mm, face) for face in FACES) <= best + SHARE_ROOM


@pytest.mark.parametrize("seed", range(3))
def test_told_slope_is_that_of_the_plain_rules(seed: int) -> None:
    """The steepest slope told for the section is the larger of back and belly by the plain rules."""
    reading = wavy_reading(seed, crook_mm=3.0)
    for name in SIDES:
        reading = change_side(reading, name, angle_error_deg=np.full(reading.positions_mm.shape, 3.0))
    answer = judge(reading, BOW_MM)

    assert answer.section is not None
    assert answer.section.worst_slope is not None
    # Taken as the back a face tells at least 20 times its own slope, and more only by 12 times the other's.
    told = max(plain_share(reading, answer.section.start_mm, face) for face in FACES) / 20.0
    assert answer.section.worst_slope == pytest.approx(told, abs=1e-3)
