"""Verdict, section and back on drawn boards whose truth was worked out elsewhere, by another program.

The boards lie beside the project, not in it; where they are absent these tests are skipped. Only their
exact fibre angles are read here, no photo.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from service.board.types import BoardReading, RunOffPoint
from service.grain.follow import follow_lines
from service.grain.types import KnotBox
from service.judge.judge import judge
from service.judge.record import Answer
from service.sides import FACES, SIDES, BoardSize, side_above, side_below
from tests.judge.made import make_side

BOARDS = sorted((Path(__file__).parents[2].parent / "shared" / "boards").glob("*/truth.json"))
ERROR_DEG = 0.01
SHARE_ROOM = 0.03
"""Share of a limit by which the section found may differ from the best one told: sections closer than that
are taken for equal, and the one farther from bad wood wins."""
HALF_DEGREE = float(np.tan(np.radians(0.5)))
"""Faces closer than this may serve either way round."""
RUNOFF_ROOM_MM = 25.4
"""An inch, where lines are followed by the mean angle across the side."""

pytestmark = pytest.mark.skipif(not BOARDS, reason="the drawn boards are not beside this copy of the project")


def reading_of(truth: dict[str, Any]) -> BoardReading:
    """Turn a board's truth into a reading without error."""
    sides = {}
    for name in SIDES:
        told = truth["sides"][name]
        side = make_side(np.asarray(told["angle_deg"], dtype=np.float64), ERROR_DEG, np.asarray(told["crook_mm"]))
        boxes = ({key: knot[key] for key in KnotBox.__dataclass_fields__} for knot in told["knots"])
        runoffs = (RunOffPoint(off["position_mm"], off["over"], 0.0, off["line"], 0.0) for off in told["runoffs"])
        object.__setattr__(side, "knots", tuple(KnotBox(**box) for box in boxes))
        object.__setattr__(side, "runoffs", tuple(runoffs))
        sides[name] = side
    positions_mm = np.asarray(truth["sides"]["face_1"]["positions_mm"], dtype=np.float64)
    unknown = np.full(positions_mm.shape, np.nan)
    size = BoardSize(truth["length_mm"], truth["width_mm"], truth["thickness_mm"])
    return BoardReading(size, positions_mm, sides, None, unknown, unknown, spiral_seen=True)


def faces_apart(answer: Answer) -> float:
    """Return how far the steepest slopes of the two faces lie apart, in the answer's own words."""
    one, other = (answer.sides[face].slope_one_in for face in FACES)
    assert one is not None
    assert other is not None
    assert one.one_in is not None
    assert other.one_in is not None
    return abs(1 / one.one_in - 1 / other.one_in)


@pytest.mark.parametrize("path", BOARDS, ids=lambda path: path.parent.name)
def test_answers_are_the_known_ones(path: Path) -> None:
    """Every bow length of every board gets the verdict known for it, for the reason known, and its back."""
    truth = json.loads(path.read_text())
    reading = reading_of(truth)
    for bow, known in truth["default_limits_truth"].items():
        answer = judge(reading, float(bow.removesuffix("in")) * 25.4)
        assert answer.verdict == known["answer"], bow
        if known["because"] != "ok":
            assert answer.reasons[0].code == known["because"], bow
        else:
            assert answer.back is not None
            if faces_apart(answer) > HALF_DEGREE:
                assert answer.back.face == known["back"], bow
            assert answer.section is not None
            used = 1.0 / answer.score_parts[1].points * 20.0 - 1.0
            assert used == pytest.approx(known["share_of_limit_used"], abs=SHARE_ROOM)


@pytest.mark.parametrize("path", BOARDS, ids=lambda path: path.parent.name)
def test_runoffs_are_the_known_ones(path: Path) -> None:
    """Lines followed by the mean angle leave over the known corner within an inch of the known place, knots aside."""
    truth = json.loads(path.read_text())
    reading = reading_of(truth)
    if any(truth["sides"][name]["knots"] for name in SIDES):
        pytest.skip("knots turn the lines beside them away from the mean angle")
    for name in SIDES:
        slope = np.tan(np.radians(reading.sides[name].angle_deg))
        length_mm, across_mm = reading.size.length_mm, reading.size.across_mm(name)
        ends = follow_lines(reading.positions_mm, slope, np.zeros(slope.shape), across_mm, 0.0, length_mm)
        known = {off["line"]: off for off in truth["sides"][name]["runoffs"]}
        assert [end.line for end in ends] == sorted(known)
        for end in ends:
            assert end.position_mm == pytest.approx(known[end.line]["position_mm"], abs=RUNOFF_ROOM_MM)
            over = side_above(name) if end.corner == "upper" else side_below(name)
            assert over == known[end.line]["over"]
