"""Photos that cannot be read are refused with the true reason and what to do, and nothing is made up."""

import io
from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from service.board.assemble import board_grid
from service.demo import DemoBoard, demo_boards
from service.reading import Upload, Wish, read_board
from service.settings import find_folder
from service.sight import SideSight, see_side

Picture = NDArray[np.uint8]


@cache
def board() -> DemoBoard:
    """Take the first demo board."""
    return demo_boards(find_folder("demo_photos"))[0]


@cache
def picture() -> Picture:
    """Decode its first face's photo."""
    return np.asarray(Image.open(io.BytesIO(board().wish.photos["face_1"][0].data)).convert("RGB"))


def upload(changed: Picture, name: str = "side.jpg") -> Upload:
    """Save a picture as a JPEG upload."""
    data = io.BytesIO()
    Image.fromarray(changed).save(data, "JPEG", quality=90)
    return Upload(name, data.getvalue())


def seen(changed: Picture) -> SideSight:
    """Read a changed photo as face 1."""
    size = board().wish.size
    return see_side((upload(changed),), size.length_mm, size.width_mm, board_grid(size.length_mm))


def defocused(clear: Picture) -> Picture:
    """Blur a photo as a lens out of focus does."""
    return np.asarray(cv2.GaussianBlur(clear, (0, 0), 9))


def moved(clear: Picture) -> Picture:
    """Blur a photo as a moving hand does, across the board."""
    return np.asarray(cv2.blur(clear, (1, 31)))


def dark(clear: Picture) -> Picture:
    """Leave next to no light."""
    return np.asarray(clear * 0.02, np.uint8)


def burnt(clear: Picture) -> Picture:
    """Let in ten times the light."""
    return np.asarray(np.clip(clear.astype(float) * 10, 0, 255), np.uint8)


def tiny(clear: Picture) -> Picture:
    """Shrink to the size of a preview."""
    return np.asarray(cv2.resize(clear, None, fx=0.16, fy=0.16, interpolation=cv2.INTER_AREA))


def blank(clear: Picture) -> Picture:
    """Take a photo of the bare floor: the picture's lowest fifth, over and over."""
    strip = clear[-clear.shape[0] // 5 :]
    return np.ascontiguousarray(np.concatenate([strip[::step] for step in (1, -1, 1, -1, 1)]))


@pytest.mark.parametrize(
    ("change", "codes"),
    [
        (defocused, {"blurred"}),
        (moved, {"blurred", "no_board"}),
        (dark, {"too_dark"}),
        (burnt, {"burnt_out"}),
        (tiny, {"too_small"}),
        (blank, {"no_board"}),
    ],
)
def test_unusable_photos_are_refused_with_the_true_reason(
    change: Callable[[Picture], Picture], codes: set[str]
) -> None:
    """Each fault is named, and nothing is read from the photo."""
    sight = seen(change(picture()))

    assert sight.grain is None
    assert sight.problem is not None
    assert sight.problem.code in codes
    assert len(sight.problem.text) > 20


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
