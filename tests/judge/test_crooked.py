"""Boards that bend sideways (crook): a straight bow loses width to the bend, told or too much."""

from dataclasses import replace

import numpy as np
import pytest

from service.board.types import BoardReading
from service.grain.types import KnotBox
from service.judge.judge import judge
from service.judge.record import Answer
from service.judge.shape import BowShape
from service.sides import BoardSize
from tests.judge.made import angle_of, change_side, make_reading

LENGTH_MM, BOW_MM, WIDTH_MM = 2438.4, 1727.2, 38.1


def crooked(sag_mm: float, width_mm: float = WIDTH_MM) -> BoardReading:
    """Make up a board bent sideways in an even curve, its fibre straight as the tree grew."""
    reading = make_reading(length_mm=LENGTH_MM)
    share = reading.positions_mm / LENGTH_MM
    line_mm = 4.0 * sag_mm * share * (1.0 - share)
    turn = 4.0 * sag_mm * (1.0 - 2.0 * share) / LENGTH_MM
    for name, sign in (("face_1", 1.0), ("face_2", -1.0)):
        reading = change_side(reading, name, crook_mm=sign * line_mm, angle_deg=angle_of(-sign * turn))
    return replace(reading, size=BoardSize(LENGTH_MM, width_mm, 19.0))


def codes(answer: Answer) -> list[str]:
    """List the codes of an answer's reasons."""
    return [reason.code for reason in answer.reasons]


def lies_inside(sag_mm: float, narrower_mm: float, board_mm: float = WIDTH_MM) -> bool:
    """Tell by trying every offset whether a bow made so much narrower lies in the middle of a crooked board."""
    along_mm = np.linspace(0.0, BOW_MM, 1001)
    half_mm = 0.5 * (BowShape(BOW_MM, WIDTH_MM).width_at(along_mm) - narrower_mm)
    bend_mm = 4.0 * sag_mm * (BOW_MM / LENGTH_MM) ** 2 * along_mm / BOW_MM * (1.0 - along_mm / BOW_MM)
    reach_mm = (np.abs(offset_mm - bend_mm) + half_mm for offset_mm in np.arange(0.0, sag_mm, 0.1))
    return any(bool(np.all(reach <= 0.5 * board_mm)) for reach in reach_mm)


@pytest.mark.parametrize("sag_mm", [35.0, 45.0])
def test_the_width_lost_to_crook_is_told(sag_mm: float) -> None:
    """A straight bow out of a crooked 1x2 is as much narrower as trying every offset says, and the answer tells it."""
    answer = judge(crooked(sag_mm), BOW_MM)
    narrower = [lost for lost in range(30) if lies_inside(sag_mm, float(lost))]

    assert answer.verdict == "pass"
    assert codes(answer) == ["within_limits", "crook"]
    told_mm = int(answer.reasons[1].text.split(" mm)")[0].rsplit("(")[-1])
    assert abs(told_mm - narrower[0]) <= 1


def test_little_crook_needs_no_word() -> None:
    """A crook that the narrowing tips make room for costs the bow nothing."""
    assert lies_inside(10.0, 2.0)
    assert codes(judge(crooked(10.0), BOW_MM)) == ["within_limits"]


def test_a_board_more_crooked_than_the_bow_is_wide_fails() -> None:
    """However straight the fibre, a bow that would lose more than half its width does not come out of a board."""
    answer = judge(crooked(90.0), BOW_MM)

    assert not lies_inside(90.0, WIDTH_MM / 2)
    assert (answer.verdict, codes(answer)[0]) == ("fail", "too_crooked")
    assert judge(crooked(90.0), 1219.2).verdict == "pass"


def test_width_to_spare_takes_up_crook() -> None:
    """A board wide enough beside its crook gives the whole bow."""
    answer = judge(crooked(45.0, 88.9), BOW_MM, bow_width_mm=WIDTH_MM)

    assert lies_inside(45.0, 0.0, 88.9)
    assert codes(answer) == ["within_limits"]


def test_a_knot_is_passed_by_where_the_bend_puts_it() -> None:
    """In the middle of a board that bends up by 20 mm a straight bow lies 20 mm lower in the board than at its ends.

    A knot in the lowest 25 mm of a 88.9 mm board ends 19.45 mm below its mid-line there; the bow's lower side, 19.05 mm
    below its centre line, stays 6 mm above that.
    """
    reading = crooked(40.0, 88.9)
    middle_mm = LENGTH_MM / 2
    reading = change_side(reading, "face_1", knots=(KnotBox(middle_mm - 6.0, middle_mm + 6.0, 0.0, 25.0),))
    section = judge(reading, BOW_MM, bow_width_mm=WIDTH_MM).section

    assert section is not None
    sign = 1.0 if section.back_face == "face_1" else -1.0
    at = (middle_mm - section.start_mm) / BOW_MM
    centre_mm = sign * ((1.0 - at) * section.offset_start_mm + at * section.offset_end_mm)
    sag_mm = 4.0 * 40.0 * (BOW_MM / LENGTH_MM) ** 2 * at * (1.0 - at)
    assert centre_mm - sag_mm - 19.05 >= -19.45 + 6.0 - 0.5
