"""Where to cut and what to mind, in sentences: each is said when there is something to say, and only then."""

import pytest

from service.asked import make_wish
from service.judge.limits import limits_told
from service.judge.record import Answer, Back, Section
from service.judge.record_side import Knot, Side
from service.show.cut_words import (
    back_lines,
    further_sections,
    limb_line,
    offset_line,
    place_lines,
    share_text,
    two_bows_lines,
)
from service.show.limit_words import LIMIT_NAMES, changed_line
from service.show.words import side_line, summary_lines
from service.upload import Upload
from tests.app.standins import answer_for, section_from

MIDDLE = "As face 1 faces you, marked end left, its centre line lies"


def told() -> Answer:
    """Make an answer about a bow narrower than its board, lying aslant in it."""
    texts = {"bow_length": "68 in", "length": "96 in", "size": "1x2", "bow_width": "1-1/4 in"}
    return answer_for(make_wish(texts, {"face_1": [Upload("a.jpg", b"photo")]}))


def aslant(start_mm: float, end_mm: float) -> Section:
    """Make a section whose centre line has two offsets."""
    offsets = {"offset_start_mm": start_mm, "offset_end_mm": end_mm}
    return section_from(254.0, 1727.2, "Why.").model_copy(update=offsets)


@pytest.mark.parametrize(
    ("start_mm", "end_mm", "line"),
    [
        (0.0, 0.0, ""),
        (0.5, -0.7, ""),
        (12.7, -9.525, f"{MIDDLE} 1/2 in above the board's middle at the start and 3/8 in below it at the end."),
        (12.7, 0.0, f"{MIDDLE} 1/2 in above the board's middle at the start and on it at the end."),
        (0.0, -9.525, f"{MIDDLE} on the board's middle at the start and 3/8 in below it at the end."),
        (-6.35, -6.35, f"{MIDDLE} 1/4 in below the board's middle all along."),
    ],
)
def test_a_centre_line_is_told_only_where_it_leaves_the_middle(start_mm: float, end_mm: float, line: str) -> None:
    """Offsets that would be written as nothing are not told; the others say how far and which way at each end."""
    assert offset_line(aslant(start_mm, end_mm), "in") == line


def test_a_bow_with_one_place_only_needs_no_more_words() -> None:
    """A bow as wide as its board that can begin at one place only has nothing to add to its two cuts."""
    only = {"starts_from_mm": 254.0, "starts_to_mm": 254.0, "width_mm": 38.1}
    answer = told()
    answer = answer.model_copy(update={"section": aslant(0.0, 0.0).model_copy(update=only)})

    assert place_lines(answer, "in") == []
    assert two_bows_lines(answer.model_copy(update={"two_bows": []}), "in") == []


def test_other_stretches_inside_the_free_range_are_not_told_again() -> None:
    """Where any start from A to B is as good, a stretch that begins between them is no news; a longer one is."""
    answer = told()
    inside, outside = section_from(280.0, 1727.2, "Inside."), section_from(600.0, 1727.2, "Outside.")
    shorter = section_from(280.0, 1500.0, "Shorter.")
    answer = answer.model_copy(update={"alternatives": [inside, outside, shorter]})

    assert [other.why for other in further_sections(answer)] == ["Outside.", "Shorter."]
    assert len(further_sections(answer.model_copy(update={"section": None}))) == 3


def test_a_back_that_is_not_sure_says_that_either_may_serve() -> None:
    """Without a difference beyond the error the sentence names the rather better face and leaves the other open."""
    back = Back(face="face_1", sure=False, why="They are alike.", lower_limb="either", lower_limb_why="")

    assert back_lines(back) == [
        "Either face may serve; rather make face 1 the back. They are alike.",
        "Either end may become the lower limb.",
    ]
    assert limb_line(back.model_copy(update={"lower_limb": "marked", "lower_limb_why": "It is straighter."})) == (
        "Make the end toward the marked end the lower limb. It is straighter."
    )


def test_warnings_about_the_back_stand_beside_it() -> None:
    """What speaks against the back is told right after it, on the command line too."""
    lines = summary_lines(told(), "in")
    at = lines.index("Make face 2 the back. Face 2 is straighter.")

    assert lines[at + 1] == "Ring lines are cut through on the back."


@pytest.mark.parametrize("side", ["face_1", "face_2"])
def test_knots_by_hand_are_marked_also_on_sides_without_photos(side: Side) -> None:
    """A knot that somebody pointed at is told as such, on a side that was read and on one that was not."""
    knot = Knot(from_mm=914.4, to_mm=924.4, across_from_mm=0.0, across_to_mm=12.7, by_hand=True)
    read = told().sides[side].model_copy(update={"knots": [knot]})

    assert "1 knot, at 36 in (pointed at by hand)" in side_line(read, side, "in")


def test_changed_limits_are_told_with_the_usual_ones() -> None:
    """Only limits that differ from the usual ones are told, each beside the usual value."""
    answer = told()

    assert changed_line(answer, "in") == (
        "Judged by limits that are not the usual ones: slope on the back 1 in 16 (3.6 deg) instead of "
        "1 in 20 (2.9 deg)."
    )
    assert changed_line(answer.model_copy(update={"limits": limits_told()}), "in") == ""


def test_every_limit_has_a_name_that_people_use() -> None:
    """No limit is shown by the name that programs use."""
    assert {limit.name for limit in limits_told().items} == LIMIT_NAMES.keys()


@pytest.mark.parametrize(
    ("low", "high", "text"), [(0.62, 0.81, "62 to 81 %"), (0.809, 0.811, "81 %"), (1.0, 1.0, "100 %")]
)
def test_ranges_are_written_in_percent(low: float, high: float, text: str) -> None:
    """A range whose ends are written alike is written once."""
    assert share_text(low, high) == text
