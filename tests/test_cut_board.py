"""A board whose four photos came as its stretches gets the answer of the whole photos."""

import numpy as np
import pytest

from service.reading import Wish, read_board
from service.sides import SIDES, BoardSize
from service.upload import Upload
from tests.drawing import photograph, random_camera, random_scene, random_solid
from tests.photo.lighten import lighten

LENGTH_MM = 2438.4
BOW_MM = 1727.2
BYTES = 0.15
#: What cutting may change: the mean angle of a side's lines, the score of 100, places along the board.
ANGLE_DEG = 0.05
SCORE = 3.0
PLACE_MM = 25.4


@pytest.mark.parametrize("diagonal", [0.01, 0.05], ids=["straight", "steep"])
def test_a_cut_board_gets_the_answer_of_the_whole_one(diagonal: float) -> None:
    """Verdict, score, section and the number of run-offs are those of the whole photos, for 15 % of their bytes."""
    seed = round(8100 + 1000 * diagonal)
    solid = random_solid(seed, diagonal=diagonal, spiral=0.005, tilt_deg=45.0)
    whole, cut = {}, {}
    sent = there = 0
    for number, side in enumerate(SIDES):
        scene = random_scene(seed + number, place=seed, ground="floor", below_mm=0.0, shadow=False, noise=0.01)
        data, _ = photograph(solid, side, random_camera(seed + number, solid), scene)
        light = lighten(data, LENGTH_MM, (solid.across_mm(side),))
        assert light is not None
        whole[side], cut[side] = (Upload(side, data),), (Upload(side, light.laid_back()),)
        sent, there = sent + light.sent_bytes, there + len(data)

    size = BoardSize(LENGTH_MM, solid.width_mm, solid.thickness_mm)
    one, other = (read_board(Wish(size, BOW_MM, photos)).answer for photos in (whole, cut))

    assert other.verdict == one.verdict
    assert other.score == pytest.approx(one.score, abs=SCORE)
    assert [reason.code for reason in other.reasons][:1] == [reason.code for reason in one.reasons][:1]
    assert (other.section is None) == (one.section is None)
    if one.section is not None and other.section is not None:
        assert other.section.start_mm == pytest.approx(one.section.start_mm, abs=PLACE_MM)
    lines = [np.array([answer.sides[side].line_deg for side in SIDES], dtype=np.float64) for answer in (one, other)]
    assert np.nanmean(np.abs(lines[1] - lines[0])) <= ANGLE_DEG
    told = [sum(len(answer.sides[side].runoffs) for side in SIDES) for answer in (one, other)]
    assert told[1] == pytest.approx(told[0], abs=max(2, 0.1 * told[0]))
    assert sent <= BYTES * there
