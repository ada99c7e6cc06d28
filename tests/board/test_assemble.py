"""Four sides put onto one board: crook, run-offs, and photos that contradict each other."""

import numpy as np
import pytest

from service.board.assemble import SideGiven, assemble, board_grid, contradictions
from service.errors import Problem
from service.grain.types import SideGrain
from service.photo.types import Strip
from service.sides import SIDES, BoardSize, side_opposite

SIZE = BoardSize(2000.0, 60.0, 20.0)
GRID_MM = board_grid(SIZE.length_mm)


def grain(slope: np.ndarray, error: float = 0.003) -> SideGrain:
    """Make a side whose lines have these slopes."""
    wide = np.full(slope.shape, error)
    return SideGrain(slope, wide, slope, wide, slope, wide, np.zeros(slope.shape))


def swing() -> np.ndarray:
    """Return a slope that rises along the board, unlike its own mirror image or reverse."""
    return np.asarray(0.01 + 0.08 * GRID_MM / 2000)


def strip(crook_mm: np.ndarray) -> Strip:
    """Make a whole-length strip with a mid-line."""
    return Strip(np.zeros((4, 40), np.float32), 50.0, 0.0, 2000.0, 1.5, 0.01, GRID_MM, crook_mm, 0.9)


def test_sides_that_mirror_each_other_raise_no_doubt() -> None:
    """Face 2 shows face 1's slopes with the sign turned: as it must be."""
    assert contradictions({"face_1": grain(swing()), "face_2": grain(-swing())}) == ()


def test_a_side_turned_end_for_end_is_noticed() -> None:
    """With the marked end on the right the slopes come in reverse order."""
    (found,) = contradictions({"face_1": grain(swing()), "face_2": grain(-swing()[::-1])})

    assert found.code == "turned_round"
    assert "marked end on the right" in found.text


def test_the_same_side_twice_is_noticed() -> None:
    """The same side again shows the slopes unmirrored."""
    (found,) = contradictions({"edge_1": grain(swing()), "edge_2": grain(swing())})

    assert found.code == "same_side"
    assert "twice, or upside down" in found.text


def test_straight_sides_say_nothing_about_their_order() -> None:
    """Slopes near nothing fit either way, and no doubt is raised."""
    nothing = np.zeros(GRID_MM.shape)

    assert contradictions({"face_1": grain(nothing), "face_2": grain(nothing)}) == ()


def test_lens_bow_cancels_and_crook_stays() -> None:
    """The lens bows both pictures one way; the board's crook shows mirrored on opposite sides."""
    lens_mm = 3.0 * np.sin(np.pi * GRID_MM / 2000)
    crook_mm = 2.0 * np.sin(np.pi * GRID_MM / 2000)
    given = {
        side: SideGiven(grain(swing() * 0.1), None, (strip(lens_mm + (crook_mm if side == "face_1" else -crook_mm)),))
        for side in ("face_1", "face_2")
    }
    reading = assemble(SIZE, given, {}, None)

    assert reading.sides["face_1"].crook_mm == pytest.approx(crook_mm, abs=1e-9)
    assert reading.sides["face_2"].crook_mm == pytest.approx(-crook_mm, abs=1e-9)


def test_crook_of_a_single_side_is_unknown() -> None:
    """From one side alone crook and lens cannot be told apart, so nothing is claimed."""
    reading = assemble(SIZE, {"face_1": SideGiven(grain(swing()), None, (strip(np.zeros(GRID_MM.shape)),))}, {}, None)

    assert np.isnan(reading.sides["face_1"].crook_mm).all()


def test_missing_and_unreadable_sides_keep_their_reasons() -> None:
    """A side without a photo is missing, one that could not be read asks for another photo."""
    blurred = Problem("blurred", "The photo is blurred.")
    reading = assemble(SIZE, {"face_1": SideGiven(None, blurred)}, {}, None)

    assert reading.sides["face_1"].status == "retake"
    assert reading.sides["face_1"].problem == blurred
    assert [reading.sides[side].status for side in SIDES[1:]] == ["missing"] * 3


def test_runoffs_leave_over_the_neighbour_they_lean_to() -> None:
    """On edge 1 of a flat-sawn board lines rise toward face 1 and leave over its corner, line 9 first."""
    rising = np.full(GRID_MM.shape, 0.05)
    given = {
        side: SideGiven(grain(rising if side == "edge_1" else -rising), None, (strip(GRID_MM * 0),))
        for side in ("edge_1", "edge_2")
    }
    given |= {side: SideGiven(grain(GRID_MM * 0, 0.05), None, (strip(GRID_MM * 0),)) for side in ("face_1", "face_2")}
    for side in ("face_1", "face_2"):
        wild = given[side].grain
        assert wild is not None
        wild.spread[:] = 0.1
    reading = assemble(SIZE, given, {}, None)
    first = min(reading.sides["edge_1"].runoffs, key=lambda runoff: runoff.position_mm)

    assert reading.rings is not None
    assert reading.rings.sawing == "flat"
    assert (first.over, first.line) == ("face_1", 9)
    assert first.position_mm == pytest.approx(0.1 * 20 / 0.05, rel=0.15)
    assert {side_opposite(r.over) for r in reading.sides["edge_2"].runoffs} == {"face_2"}
