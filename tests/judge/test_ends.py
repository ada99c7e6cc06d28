"""What is left of a board between its ends: trimmed and cracked ends, equal starts, and two bows from one board."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import BadInput
from service.judge.alternatives import weigh_length
from service.judge.judge import judge
from service.judge.limits import DEFAULT, Limits
from service.judge.record import Answer, Section
from service.judge.section import usable_mm
from service.sides import BoardSize
from tests.judge.made import bump, make_reading

BOW_MM = 1524.0
STEP_MM = 3.0

some = settings(max_examples=30, deadline=None)


def sections_of(answer: Answer) -> list[Section]:
    """List every section an answer tells."""
    own = [answer.section] if answer.section is not None else []
    return [*own, *answer.alternatives, *answer.two_bows]


@some
@given(
    marked_mm=st.floats(0.0, 700.0),
    far_mm=st.floats(0.0, 700.0),
    trim_mm=st.floats(0.0, 60.0),
    steep=st.floats(0.0, 0.06),
)
def test_nothing_told_reaches_into_a_bad_end(marked_mm: float, far_mm: float, trim_mm: float, steep: float) -> None:
    """Every section told, shorter and second ones too, keeps clear of cracks and of what is trimmed off."""
    positions_mm = make_reading(length_mm=3200.0).positions_mm
    reading = make_reading({"face_1": 0.01 + bump(positions_mm, 1500.0, 300.0, steep)}, length_mm=3200.0)
    reading = replace(reading, end_checks_mm=(marked_mm, far_mm))
    answer = judge(reading, BOW_MM, Limits(end_trim_mm=trim_mm))

    for section in sections_of(answer):
        assert section.start_mm >= max(marked_mm, trim_mm) - 0.5 * STEP_MM
        assert section.end_mm <= 3200.0 - max(far_mm, trim_mm) + 0.5 * STEP_MM


@some
@given(marked_mm=st.floats(0.0, 900.0), more_mm=st.floats(0.0, 300.0))
def test_a_longer_crack_never_helps(marked_mm: float, more_mm: float) -> None:
    """A crack that reaches farther in raises neither verdict nor score."""
    reading = make_reading({"face_1": 0.02}, length_mm=2438.4)
    rank = {"fail": 0, "retake": 0, "borderline": 1, "pass": 2}
    short, long = (
        judge(replace(reading, end_checks_mm=(length_mm, 0.0)), BOW_MM)
        for length_mm in (marked_mm, marked_mm + more_mm)
    )

    assert rank[long.verdict] <= rank[short.verdict]
    assert long.score <= short.score + 0.01


def test_ends_that_leave_too_little_are_named() -> None:
    """A 62 in board with 3 in of crack at one end is too short for a 60 in bow, and the reason says so."""
    reading = replace(make_reading(length_mm=1574.8), end_checks_mm=(76.2, 0.0))
    answer = judge(reading, BOW_MM)

    assert answer.verdict == "fail"
    assert answer.reasons[0].code == "too_short"
    assert "its ends leave 59 in" in answer.reasons[0].text
    assert "shorter bow" in answer.reasons[0].text
    assert [check.end for check in answer.end_checks] == ["marked"]
    assert answer.alternatives[0].end_mm - answer.alternatives[0].start_mm == pytest.approx(59 * 25.4, abs=0.2)
    assert answer.alternatives[0].start_mm >= 76.2 - 0.5 * STEP_MM


def test_a_crack_lies_in_the_wood_that_is_trimmed() -> None:
    """Sawing 3 in off an end takes a crack of 1 in with it, and of the two the longer counts."""
    reading = replace(make_reading(length_mm=1574.8), end_checks_mm=(25.4, 101.6))

    assert usable_mm(reading, Limits(end_trim_mm=76.2)) == pytest.approx((76.2, 1574.8 - 101.6))


def test_a_board_cracked_from_end_to_end_leaves_nothing() -> None:
    """Cracks and trimmed ends that meet leave no wood, never less than none."""
    reading = replace(make_reading(length_mm=1000.0), end_checks_mm=(500.0, 0.0))
    answer = judge(reading, BOW_MM, Limits(end_trim_mm=600.0))

    assert "its ends leave 0 in" in answer.reasons[0].text
    assert answer.section_reason == "The bow is longer than the wood there is."


@some
@given(place_mm=st.floats(0.0, 2600.0), width_mm=st.floats(40.0, 300.0), height=st.floats(0.0, 0.08))
def test_every_start_of_the_range_told_is_as_good(place_mm: float, width_mm: float, height: float) -> None:
    """From the first to the last start told the section keeps its verdict and its score, to a tenth of a point."""
    positions_mm = make_reading(length_mm=2600.0).positions_mm
    reading = make_reading({"face_1": 0.008 + bump(positions_mm, place_mm, width_mm, height)}, length_mm=2600.0)
    section = judge(reading, BOW_MM).section
    if section is None:
        return
    weighed = weigh_length(reading, BOW_MM, DEFAULT)
    starts_mm = weighed.search.slopes.lattice.starts_mm
    told = (starts_mm >= section.starts_from_mm - 0.1) & (starts_mm <= section.starts_to_mm + 0.1)
    points = weighed.points.max(axis=0)

    assert section.starts_from_mm <= section.start_mm <= section.starts_to_mm
    chosen = points[int(np.argmin(np.abs(starts_mm - section.start_mm)))]
    assert np.all(points[told] >= chosen - 2 * DEFAULT.equal_points)
    assert np.unique(weighed.verdicts.max(axis=0)[told]).size == 1


def test_an_even_board_may_be_cut_anywhere() -> None:
    """On a board of one slope all along every start is as good, from one end to the other."""
    section = judge(make_reading({"face_1": 0.02}, length_mm=2438.4), BOW_MM).section

    assert section is not None
    assert section.starts_from_mm < STEP_MM
    assert section.starts_to_mm > 2438.4 - BOW_MM - STEP_MM


@some
@given(length_in=st.integers(110, 160), kerf_mm=st.floats(0.0, 10.0))
def test_two_bows_lie_a_saw_cut_apart(length_in: int, kerf_mm: float) -> None:
    """Two sections are told when the board holds both and the cut between them, and only then."""
    length_mm = length_in * 25.4
    answer = judge(make_reading({"face_1": 0.02}, length_mm=length_mm), BOW_MM, Limits(kerf_mm=kerf_mm))
    spare_mm = length_mm - 2 * BOW_MM - kerf_mm

    if spare_mm > 2 * STEP_MM:
        first, second = answer.two_bows
        assert second.start_mm - first.end_mm >= kerf_mm - 0.2
        assert first.start_mm >= 0
        assert second.end_mm <= length_mm + 0.2
    elif spare_mm < -1e-6:
        assert answer.two_bows == []


def test_the_second_bow_is_not_cut_from_bad_wood() -> None:
    """A board long enough for two with a steep half gives one."""
    positions_mm = make_reading(length_mm=3657.6).positions_mm
    steep = np.where(positions_mm > 2000.0, 0.1, 0.01)

    answer = judge(make_reading({"face_1": steep}, length_mm=3657.6), BOW_MM)
    assert answer.verdict == "pass"
    assert answer.two_bows == []


@pytest.mark.parametrize("width_mm", [0.0, -5.0, float("nan"), float("inf")])
def test_a_bow_without_width_is_refused(width_mm: float) -> None:
    """A bow width that is no width is refused, naming the field."""
    with pytest.raises(BadInput, match="bow width") as refusal:
        judge(make_reading(), BOW_MM, bow_width_mm=width_mm)

    assert refusal.value.field == "bow_width"


def test_a_bow_wider_than_its_board_is_refused() -> None:
    """A bow of 2 in does not come out of a 1x2, and the sentence names both widths."""
    reading = replace(make_reading(), size=BoardSize(2438.4, 38.1, 19.05))

    with pytest.raises(BadInput, match=r"2 in .* 1-1/2 in"):
        judge(reading, BOW_MM, bow_width_mm=50.8)
