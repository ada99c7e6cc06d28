"""Photos that cannot be read are refused with the true reason and what to do, and nothing is made up."""

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest

from service.board.assemble import board_grid
from service.demo import DemoBoard, demo_boards
from service.reading import Upload, Wish, read_board
from service.settings import find_folder
from service.sight import SideSight, see_side
from tests.photo.faults import FAULTS, LENGTH_MM, Picture, far, grazing, opened, saved


@cache
def board() -> DemoBoard:
    """Take the first demo board."""
    return demo_boards(find_folder("demo_photos"))[0]


@cache
def picture() -> Picture:
    """Decode its first face's photo."""
    return opened(board().wish.photos["face_1"][0].data)


def upload(changed: Picture, name: str = "side.jpg") -> Upload:
    """Save a picture as a JPEG upload."""
    return Upload(name, saved(changed))


def seen(changed: Picture) -> SideSight:
    """Read a changed photo as face 1."""
    size = board().wish.size
    return see_side((upload(changed),), size.length_mm, size.width_mm, board_grid(size.length_mm))


@pytest.mark.parametrize("fault", FAULTS)
def test_unusable_photos_are_refused_with_the_true_reason(fault: str) -> None:
    """Each fault is named, and nothing is read from the photo."""
    change, code = FAULTS[fault]
    sight = seen(change(picture()))

    assert sight.grain is None
    assert sight.problem is not None
    # A photo blurred across the board may leave no corner to be found at all.
    assert sight.problem.code in {code} | ({"no_board"} if fault == "moved" else set())
    assert len(sight.problem.text) > 20


def test_the_end_in_a_sides_place_is_refused_as_an_end() -> None:
    """The photo of the marked end, given as a side, is told to be one."""
    wish = board().wish
    assert wish.end is not None
    sight = see_side((wish.end,), wish.size.length_mm, wish.size.width_mm, board_grid(wish.size.length_mm))

    assert sight.problem is not None
    assert sight.problem.code == "end_only"


@pytest.mark.parametrize(("draw", "code"), [(far, "too_small"), (grazing, "grazing")])
def test_a_side_far_away_or_at_a_flat_angle_is_refused(draw: Callable[[int], tuple[bytes, float]], code: str) -> None:
    """A drawn board too far off, or seen along its surface, is refused for just that."""
    data, across_mm = draw(811)
    sight = see_side((Upload("side.jpg", data),), LENGTH_MM, across_mm, board_grid(LENGTH_MM))

    assert sight.problem is not None
    assert sight.problem.code == code


def test_the_clear_photo_itself_is_read() -> None:
    """The photo that the faults were made from is read: the refusals above are of the faults."""
    assert seen(picture()).grain is not None


def test_a_board_cut_off_along_its_length_is_refused() -> None:
    """With the lower long corner outside the frame there is no side to straighten."""
    middle = next(
        int((corner[0][1] + corner[3][1]) / 2) for note in seen(picture()).notes if (corner := note.outline) is not None
    )
    sight = seen(np.ascontiguousarray(picture()[: middle + 5]))

    assert sight.grain is None
    assert sight.problem is not None
    assert sight.problem.code in {"cut_off", "no_board"}


def test_the_same_photo_for_two_sides_is_named() -> None:
    """One photo given twice makes both sides a retake and says which two."""
    wish = board().wish
    face = wish.photos["face_1"]
    outcome = read_board(
        Wish(wish.size, wish.bow_length_mm, {"face_1": face, "face_2": face, "edge_1": wish.photos["edge_1"]})
    )

    assert outcome.answer.verdict == "retake"
    assert outcome.answer.sides["face_1"].status_reason is not None
    assert outcome.answer.sides["face_1"].status_reason.code == "same_photo"
    assert "Face 1 and face 2 were given the same photo" in outcome.answer.sides["face_2"].status_reason.text  # type: ignore[union-attr]


def test_one_face_and_one_edge_give_a_provisional_answer() -> None:
    """Two sides are enough for an answer that says what it does not know; it never passes and names no back."""
    wish = board().wish
    photos = {side: wish.photos[side] for side in ("face_1", "edge_1")}
    answer = read_board(Wish(wish.size, wish.bow_length_mm, photos, wish.closeups, wish.end)).answer

    assert answer.verdict == "borderline"
    assert answer.sides["face_2"].status == "missing"
    assert answer.back is None
    assert answer.back_reason
    assert any("face 2" in question.text.lower() for question in answer.open_questions)


def test_without_close_ups_nothing_passes() -> None:
    """Where the fibre itself was seen nowhere the answer is not "pass", and a close-up is asked for."""
    wish = board().wish
    answer = read_board(Wish(wish.size, wish.bow_length_mm, wish.photos, {}, wish.end)).answer

    assert answer.combined_slope is not None
    assert not answer.combined_slope.spiral_seen
    assert answer.verdict == "borderline"
    assert any("close-up" in question.photo.lower() for question in answer.open_questions)
