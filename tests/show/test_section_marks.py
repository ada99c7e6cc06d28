"""The bow drawn over the sides: its outline where the answer puts it, on each side as that side shows it."""

import numpy as np
import pytest

from service.judge.judge import judge
from service.judge.record import Answer
from service.judge.record_side import Side
from service.show.picture import side_picture
from service.show.rows import make_rows
from service.show.section_marks import bow_outline
from tests.judge.made import make_reading
from tests.show.test_picture import BOW_MM, LENGTH_MM, PLACE, make_strip, outlines, parse


def test_the_outline_is_as_wide_as_the_bow_and_narrows_to_the_tips() -> None:
    """The drawn bow is 1-1/2 in wide at the handle and 1/2 in at the tips, as C. Stemmler's flat bow of 1942 is."""
    answer = laid_aslant(88.9, 0.0, 0.0)
    tip, handle = bow_corners(answer, "face_1", [254.0, 254.0 + 0.5 * BOW_MM])

    assert tip[1] - tip[0] == pytest.approx(12.7)
    assert handle[1] - handle[0] == pytest.approx(38.1)
    assert 0.5 * (tip[0] + tip[1]) == pytest.approx(0.5 * 88.9)


def test_a_slanted_bow_rises_on_the_back_and_falls_on_the_belly() -> None:
    """Seen from the belly, marked end left again, what lay above the middle lies below it; edges see no slant."""
    answer = laid_aslant(88.9, -10.0, 20.0)
    back, belly, edge = (bow_corners(answer, side, [254.0, 254.0 + BOW_MM]) for side in ("face_1", "face_2", "edge_1"))

    for role, sign in ((back, 1.0), (belly, -1.0)):
        middles = [0.5 * (low + high) - 0.5 * 88.9 for low, high in role]
        assert middles == pytest.approx([sign * -10.0, sign * 20.0])
    assert edge == [(0.0, 19.05), (0.0, 19.05)]


def test_a_straight_bow_bends_against_a_crooked_board() -> None:
    """In a photo straightened along a mid-line that rises 8 mm in the middle, a straight bow sags by as much."""
    answer = laid_aslant(88.9, 0.0, 0.0)
    places_mm = [254.0, 254.0 + 0.5 * BOW_MM, 254.0 + BOW_MM]
    bent = answer.sides["face_1"].model_copy(update={"positions_mm": places_mm, "crook_mm": [1.0, 9.0, 1.0]})
    answer = answer.model_copy(update={"sides": {**answer.sides, "face_1": bent}})

    tip, handle, _ = bow_corners(answer, "face_1", places_mm)
    assert 0.5 * sum(tip) == pytest.approx(0.5 * 88.9)
    assert 0.5 * sum(handle) == pytest.approx(0.5 * 88.9 - 8.0)


def laid_aslant(width_mm: float, start_mm: float, end_mm: float) -> Answer:
    """Put a bow of usual width into a wider board, its back on face 1, its centre line at two offsets."""
    answer = judge(make_reading(), BOW_MM)
    assert answer.section is not None
    place = {"start_mm": 254.0, "end_mm": 254.0 + BOW_MM, "width_mm": 38.1, "back_face": "face_1"}
    section = answer.section.model_copy(update={**place, "offset_start_mm": start_mm, "offset_end_mm": end_mm})
    board = answer.board.model_copy(update={"width_mm": width_mm})
    return answer.model_copy(update={"section": section, "board": board})


def bow_corners(answer: Answer, side: Side, places_mm: list[float]) -> list[tuple[float, float]]:
    """Return the lower and upper corner of the bow at some places, as drawn on a side."""
    assert answer.section is not None
    found = [bow_outline(answer, answer.section, side, np.array([place_mm])) for place_mm in places_mm]
    return [(float(lower[0]), float(upper[0])) for lower, upper in found]


def test_the_rows_of_a_slanted_bow_join() -> None:
    """Where one row ends and the next begins the bow's corners lie at the same height in the side."""
    answer = laid_aslant(88.9, -10.0, 20.0)
    lines = outlines(parse(side_picture(make_strip(across_mm=88.9), "face_1", answer)))
    tops = [row.top for row in make_rows(LENGTH_MM, 88.9, "in", 62.0, [0, 0, 0, 0])[0]]

    upper_rows, next_rows = np.repeat(tops[:-1], 2), np.repeat(tops[1:], 2)
    for before, after, top, next_top in zip(lines[:-2], lines[2:], upper_rows, next_rows, strict=True):
        assert before[-1][1] - top == pytest.approx(after[0][1] - next_top, abs=2 * PLACE)
