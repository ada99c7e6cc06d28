"""Knots and cracks entered by hand, and what becomes of them in the board's reading."""

from dataclasses import replace

import numpy as np
import pytest

from service.board.assemble import SideGiven, assemble, board_grid
from service.board.by_hand import (
    NEAR_MM,
    POINT_MM,
    ByHand,
    DismissedKnot,
    EnteredKnot,
    check_end_check,
    dismiss_knot,
    enter_knot,
    with_hand_entries,
)
from service.board.types import BoardReading
from service.errors import BadInput
from service.grain.types import KnotBox, KnotSign, SideGrain
from service.judge.judge import judge
from service.photo.types import Strip
from service.sides import SIDES, BoardSize
from tests.judge.made import make_reading, with_knot

SIZE = BoardSize(2000.0, 40.0, 20.0)
BOW_MM = 1727.2
GRID_MM = board_grid(SIZE.length_mm)

FOUND = KnotBox(900.0, 912.0, 5.0, 15.0)
PARTNER = KnotBox(902.0, 910.0, 0.0, 8.0)


def given_side(*knots: KnotBox) -> SideGiven:
    """Make a straight side on which knots were seen beyond doubt."""
    wide, nothing = np.full(GRID_MM.shape, 0.002), np.zeros(GRID_MM.shape)
    strip = Strip(np.zeros((4, 40), np.float32), 50.0, 0.0, 2000.0, 1.5, 0.01, GRID_MM, nothing, 0.9)
    signs = tuple(KnotSign(box, 6.0) for box in knots)
    return SideGiven(SideGrain(nothing, wide, nothing, wide, nothing, wide, nothing, signs), None, (strip,))


def read_with(by_hand: ByHand) -> BoardReading:
    """Read a board of which face 1 holds a knot, edge 1 its partner, face 2 none, and edge 2 was not photographed."""
    given = {"face_1": given_side(FOUND), "edge_1": given_side(PARTNER), "face_2": given_side()}
    return assemble(SIZE, given, {}, None, (), by_hand)


def codes(reading: BoardReading) -> list[str]:
    """List the codes of the notes about knots and cracks."""
    return [note.code for note in reading.notes if "knot" in note.code or "check" in note.code]


def test_nothing_entered_changes_nothing() -> None:
    """Without entries the found knots stand, and nothing is said."""
    reading = read_with(ByHand())

    assert reading.sides["face_1"].knots == (FOUND,)
    assert all(reading.sides[side].knots_by_hand == () for side in SIDES)
    assert reading.end_checks_mm == (0.0, 0.0)
    assert codes(reading) == []


@pytest.mark.parametrize("side", SIDES)
def test_a_knot_pointed_at_counts_on_any_side(side: str) -> None:
    """It stands beside the found ones, is marked as entered, and the answer says that it rests on it.

    Edge 2 was not photographed: a knot seen there by eye counts all the same.
    """
    knot = enter_knot(SIZE, side, 1200.0, 1220.0)
    before, after = read_with(ByHand()), read_with(ByHand(knots=(knot,)))

    assert after.sides[side].knots == (*before.sides[side].knots, knot.box)
    assert after.sides[side].knots_by_hand == (knot.box,)
    assert after.sides[side].status == before.sides[side].status
    assert codes(after) == ["knot_entered"]
    note = next(note for note in after.notes if note.code == "knot_entered")
    assert "from 47-1/4 in (1200 mm) to 48 in (1220 mm) was entered by hand" in note.text
    assert "the answer rests on it" in note.text


def test_a_knot_counts_on_a_board_of_which_nothing_was_read() -> None:
    """What was entered is kept even when no photo could be used."""
    knot = enter_knot(SIZE, "face_2", 500.0, 500.0)

    reading = assemble(SIZE, {}, {}, None, (), ByHand(knots=(knot,)))

    assert reading.sides["face_2"].knots == reading.sides["face_2"].knots_by_hand == (knot.box,)


def test_a_point_stands_for_a_small_knot_across_the_whole_side() -> None:
    """A place alone becomes a knot of half an inch around it, as wide as the side; at an end what lies on the board."""
    knot = enter_knot(SIZE, "edge_2", 700.0, 700.0)

    assert knot.box == KnotBox(700.0 - POINT_MM / 2, 700.0 + POINT_MM / 2, 0.0, 20.0)
    assert enter_knot(SIZE, "face_1", 0.0, 0.0).box.from_mm == 0.0
    assert enter_knot(SIZE, "face_1", 2000.0, 2000.0).box.to_mm == 2000.0


def test_the_rounding_of_units_is_not_held_against_anybody() -> None:
    """A knot told to reach 0.4 mm past the far end and the upper corner ends at them."""
    box = enter_knot(SIZE, "face_1", 1990.0, 2000.4, (30.0, 40.4)).box

    assert (box.to_mm, box.across_to_mm) == (2000.0, 40.0)


@pytest.mark.parametrize("position_mm", [FOUND.from_mm - NEAR_MM, 905.0, FOUND.to_mm + NEAR_MM])
def test_a_knot_taken_away_no_longer_counts(position_mm: float) -> None:
    """A found knot within an inch of the place told is dropped; the answer says that it rests on that."""
    reading = read_with(ByHand(no_knots=(dismiss_knot(SIZE, "face_1", position_mm),)))

    assert reading.sides["face_1"].knots == ()
    assert codes(reading) == ["knot_dismissed"]
    assert "the answer rests on there being none" in reading.notes[-1].text


def test_a_knots_other_side_still_counts_and_is_named() -> None:
    """A branch that comes out on edge 1 too is taken away only where it was told."""
    reading = read_with(ByHand(no_knots=(DismissedKnot("face_1", 905.0),)))

    assert reading.sides["edge_1"].knots == (PARTNER,)
    assert reading.notes[-1].text.endswith("What was found there on edge 1 still counts.")


@pytest.mark.parametrize("position_mm", [FOUND.from_mm - NEAR_MM - 0.1, FOUND.to_mm + NEAR_MM + 0.1, 100.0])
def test_where_no_knot_was_found_nothing_changes(position_mm: float) -> None:
    """More than an inch away nothing is taken away, and the places of the knots there are are told."""
    reading = read_with(ByHand(no_knots=(DismissedKnot("face_1", position_mm),)))

    assert reading.sides["face_1"].knots == (FOUND,)
    assert codes(reading) == ["no_knot_there"]
    assert "Knots were found there at 35-1/2 in (900 mm)." in reading.notes[-1].text


def test_a_side_without_knots_says_so() -> None:
    """Taking away where nothing was found at all is told as that."""
    reading = read_with(ByHand(no_knots=(DismissedKnot("face_2", 905.0),)))

    assert reading.notes[-1].text.endswith("No knot at all was found on that side.")


def test_what_was_put_in_is_not_taken_away() -> None:
    """Of a found and an entered knot at one place only the found one goes."""
    knot = enter_knot(SIZE, "face_1", 900.0, 920.0)

    reading = read_with(ByHand(knots=(knot,), no_knots=(DismissedKnot("face_1", 905.0),)))

    assert reading.sides["face_1"].knots == (knot.box,)


def test_cracks_are_handed_on_with_a_note_each() -> None:
    """Both ends' cracks reach the reading, and the answer says that it rests on them."""
    reading = read_with(ByHand(end_checks_mm=(76.2, 50.8)))

    assert reading.end_checks_mm == (76.2, 50.8)
    assert codes(reading) == ["end_check_entered"] * 2
    assert "A crack of 3 in (76 mm) in the marked end was entered by hand" in reading.notes[-2].text
    assert "far end" in reading.notes[-1].text


def test_the_bow_is_kept_clear_of_a_knot_pointed_at() -> None:
    """On a straight board a knot near the marked end moves the section past it, one in the middle leaves no room."""
    board = make_reading({"face_1": 1 / 100})
    near_end = enter_knot(board.size, "edge_2", 300.0, 300.0)
    middle = enter_knot(board.size, "face_2", 1200.0, 1200.0)

    sides, _ = with_hand_entries(board.sides, ByHand(knots=(near_end,)))
    section = judge(replace(board, sides=sides), BOW_MM).section
    sides, _ = with_hand_entries(board.sides, ByHand(knots=(middle,)))
    blocked = judge(replace(board, sides=sides), BOW_MM)

    assert section is not None
    assert section.start_mm >= near_end.box.to_mm
    assert blocked.verdict == "fail"


def test_a_knot_taken_away_gives_the_wood_back() -> None:
    """A board that fails by a found knot alone passes once a person saw that it is none."""
    board = make_reading({"face_1": 1 / 100})
    knotty = with_knot(board, "face_1", 1200.0, 1212.0)

    sides, _ = with_hand_entries(knotty.sides, ByHand(no_knots=(DismissedKnot("face_1", 1206.0),)))

    assert judge(knotty, BOW_MM).verdict == "fail"
    assert judge(replace(knotty, sides=sides), BOW_MM).verdict == "pass"


def test_entries_touch_nothing_else() -> None:
    """The fibre, the rings and the unread stretches are those of the photos."""
    knot = EnteredKnot("face_1", KnotBox(100.0, 110.0, 0.0, 40.0))
    before, after = read_with(ByHand()), read_with(ByHand(knots=(knot,), end_checks_mm=(10.0, 0.0)))

    for side in SIDES:
        bare = replace(after.sides[side], knots=before.sides[side].knots, knots_by_hand=())
        np.testing.assert_array_equal(bare.angle_deg, before.sides[side].angle_deg)
        assert (bare.status, bare.problem, bare.runoffs) == (
            before.sides[side].status,
            before.sides[side].problem,
            before.sides[side].runoffs,
        )


@pytest.mark.parametrize(
    ("side", "from_mm", "to_mm", "across_mm", "words"),
    [
        ("face_3", 100.0, 110.0, None, "no side “face_3”: write face_1, edge_1, face_2 or edge_2"),
        ("face_1", -1.0, 110.0, None, "the board is 78-3/4 in (2000 mm) long"),
        ("face_1", 100.0, 2002.0, None, "the board is 78-3/4 in (2000 mm) long"),
        ("face_1", 110.0, 100.0, None, "nearer the marked end first"),
        ("face_1", 100.0, 110.0, (20.0, 10.0), "Write the lower end first"),
        ("face_1", 100.0, 110.0, (10.0, 10.0), "Write the lower end first"),
        ("face_1", 100.0, 110.0, (-1.0, 10.0), "face 1 is 1-9/16 in (40 mm)"),
        ("edge_1", 100.0, 110.0, (0.0, 40.0), "edge 1 is 13/16 in (20 mm)"),
    ],
)
def test_a_knot_outside_the_board_is_refused(
    side: str, from_mm: float, to_mm: float, across_mm: tuple[float, float] | None, words: str
) -> None:
    """Wrong sides, places off the board and ends in the wrong order are refused with what to write."""
    with pytest.raises(BadInput) as refusal:
        enter_knot(SIZE, side, from_mm, to_mm, across_mm)

    assert refusal.value.field == "knot"
    assert words in refusal.value.text


@pytest.mark.parametrize(("side", "position_mm"), [("back", 100.0), ("face_1", 2002.0), ("face_1", -1.0)])
def test_a_place_outside_the_board_is_refused(side: str, position_mm: float) -> None:
    """There is nothing to take away off the board."""
    with pytest.raises(BadInput) as refusal:
        dismiss_knot(SIZE, side, position_mm)

    assert refusal.value.field == "no_knot"


def test_a_crack_past_the_middle_is_refused() -> None:
    """Half the board is taken, more is not."""
    check_end_check(SIZE, "marked", 1000.0)
    with pytest.raises(BadInput, match="past the middle of the board") as refusal:
        check_end_check(SIZE, "far", 1001.0)

    assert refusal.value.field == "end_check"
