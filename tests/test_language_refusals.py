"""Every refusal is said through the catalogue, but for what was typed and what is typed alike in every language."""

from collections.abc import Callable
from typing import Final

import numpy as np
import pytest

from service.asked import make_wish, read_texts
from service.board.entered import METHODS
from service.errors import StavesightError
from service.hand_texts import HAND_FIELDS
from service.judge.judge import judge
from service.judge.limits import make_limits, thresholds
from service.judge.purposes import PURPOSES, TOLERANCES
from service.judge.ranking import make_ranking
from service.language import use_language
from service.line_tests import TEXT_EXAMPLE
from service.photo.decode import open_photo
from service.photo.outline import outline_from_corners
from service.reading import Wish, read_board
from service.sides import SIDES, BoardSize
from service.sizes import STORE_SIZES
from service.upload import Upload
from tests.judge.made import make_reading
from tests.made_up_language import TAG, english_in
from tests.photo.faults import saved
from tests.photo.scenes import photo_of

pytestmark = pytest.mark.usefixtures("made_up_language")

SIZE: Final = BoardSize(2000.0, 40.0, 20.0)

TYPED: Final = {"length": "8 ft", "bow_length": "68 in", "width": "1-1/2 in", "thickness": "3/4 in"}

#: Typed instead, each wrong in its own way.
WRONG: Final[tuple[dict[str, str], ...]] = (
    {"units": "furlong"},
    *({"length": text} for text in ("", "96", "?" * 60, "-3 in", "1 mm", "9999 in", "3/0 in", "3 in 4 ft", "??")),
    *({"width": text} for text in ("1 mm", "500 in", "99 ft")),
    {"width": "10 in", "length": "8 in"},
    {"thickness": "2 in"},
    {"width": "", "size": "4/4 S2S"},
    {"width": "", "thickness": ""},
    {"width": "1 in", "size": "2x4"},
    {"size": "9x9"},
    {"wood": "?" * 99},
    *({"ink": text} for text in ("??", "?" * 500, "face_1 1/8 in over 10 in", "face_1 1/8 in up over 1 in")),
    *({"ink": f"face_1 {text}"} for text in ("9 in up over 10 in", "2 in up over 20 in", "1/8 in up over 200 in")),
    *({"ink": text} for text in ("face_9 1/8 in up over 10 in", "face_1 1/8 in up over 10 in at 200 in")),
    {"test_side": "face_1", "test_method": "??", "test_rise": "0 in", "test_run": "10 in"},
    *({"knot": text} for text in ("??", "?" * 500, "face_1 at -3 in", "face_1 at 200 in", "face_9 at 3 in")),
    *({"knot": f"face_1 from {text}"} for text in ("9 in to 8 in", "8 in to 9 in, across 0 in to 3 in")),
    {"no_knot": "??"},
    *({"end_check": text} for text in ("??", "far 3 in; far 4 in", "marked 90 in")),
    *({"back_limit": text} for text in ("20", "0.05", "??", "1 in 2", "1 in 500")),
    *({"bow_width": text} for text in ("3 in", "90 in")),
    *({field: "9 ft"} for field in ("kerf", "end_trim", "mean_length", "knot_margin")),
    *({field: ""} for field in ("bow_length", "length", "thickness")),
    {"knot": "face_1 at 3 in, across ?? to 1 in"},
    *({"end_check": text} for text in ("far ??", "far 0 in")),
    *(
        {"test_side": "face_1", "test_rise": rise, "test_toward": way}
        for rise, way in (("", "upper"), ("1 mm", "upper"))
    ),
    *({"test_side": "face_1", "test_rise": "0 in", "test_run": text} for text in ("", "900 ft")),
    {"test_side": "face_1", "test_rise": "0 in", "test_run": "10 in", "test_position": "??"},
    {"test_rise": "1 mm"},
    {"purpose": "??"},
    {"tolerance": "??"},
)

#: Examples and names that are typed as they are in every language.
TYPED_ALIKE: Final = (
    *(example for _, _, example in HAND_FIELDS),
    *(TEXT_EXAMPLE, "marked 3 in", "210,1480 3890,1462 3888,1610 208,1634"),
    *("1 in 20", "5 %", "face_9", "??"),
    *(*SIDES, *PURPOSES, *TOLERANCES, *METHODS, *STORE_SIZES),
)


@pytest.mark.parametrize("wrong", WRONG, ids=str)
def test_every_refusal_of_what_was_typed_is_said(wrong: dict[str, str]) -> None:
    """A refusal is in the visitor's language but for what was typed and what has to be."""
    with use_language(TAG), pytest.raises(StavesightError) as refused:
        read_texts({**TYPED, **wrong})

    typed = (text for value in (*TYPED.values(), *wrong.values()) for text in (value, *value.split("; "), value[:40]))
    parts = ("200 in", "9 in", "8 in", "3 in", "-3 in", "0 in", "10 in", "1/8 in", "2 in", "1 in")
    assert english_in(refused.value.text, (*filter(None, typed), *TYPED_ALIKE, *parts)) == []


A_PHOTO: Final = Upload("a.jpg", b"no photo")
A_PICTURE: Final = saved(np.random.default_rng(2).integers(0, 255, (60, 90, 3)).astype(np.uint8))


@pytest.mark.parametrize(
    ("typed", "photos"),
    [
        ({}, {}),
        ({}, {"face_1": [Upload("", b"")]}),
        ({}, {"face_1": [Upload("a.jpg", b"")]}),
        ({}, {"face_1": [A_PHOTO], "end": [A_PHOTO, A_PHOTO]}),
        ({"corners_face_1": "1,2"}, {"face_1": [A_PHOTO]}),
        ({"corners_face_1": "1,2 9,2 9,4 1,4"}, {"face_1": [A_PHOTO, A_PHOTO]}),
    ],
)
def test_every_refusal_of_photos_is_said(typed: dict[str, str], photos: dict[str, list[Upload]]) -> None:
    """What is missing or too much among the photos is told in the visitor's language."""
    with use_language(TAG), pytest.raises(StavesightError) as refused:
        make_wish({**TYPED, **typed}, photos)

    assert english_in(refused.value.text, ("a.jpg", *TYPED_ALIKE)) == []


@pytest.mark.parametrize(
    "refuse",
    [
        lambda: make_limits(changes={"kerf": 1.0}),
        lambda: make_limits(changes={"kerf_mm": -1.0}),
        lambda: make_limits(changes={"mean_length_mm": 0.0}),
        lambda: make_limits(changes={"back_slope": 2.0}),
        lambda: judge(make_reading(), -1.0),
        lambda: judge(make_reading(), 1700.0, bow_width_mm=99.0),
        lambda: make_ranking([]),
        lambda: outline_from_corners(photo_of(np.zeros((60, 90, 3))), [(1.0, 2.0)]),
        lambda: outline_from_corners(photo_of(np.zeros((60, 90, 3))), [(1, 2), (99, 2), (99, 9), (1, 9)]),
        lambda: outline_from_corners(photo_of(np.zeros((60, 90, 3))), [(1, 2), (9, 9), (9, 2), (1, 9)]),
        lambda: outline_from_corners(photo_of(np.zeros((60, 90, 3))), [(1, 2), (3, 2), (3, 4), (1, 4)]),
        lambda: read_board(Wish(SIZE, 1700.0, {"face_1": (A_PHOTO,)}, language=TAG)),
        lambda: read_board(Wish(SIZE, 1700.0, {}, language=TAG)),
        lambda: open_photo(b"", "a.jpg"),
        lambda: open_photo(A_PICTURE, "a.jpg", max_bytes=9),
        lambda: open_photo(A_PICTURE, "a.jpg", max_pixels=9),
        lambda: open_photo(A_PICTURE[:900], "a.jpg"),
    ],
)
def test_every_refusal_of_programs_is_said(refuse: Callable[[], object]) -> None:
    """Sizes, limits, corners and files that programs hand in are refused in the language in use."""
    fixed = ("a.jpg", "kerf", *(item.name for item in thresholds()))
    with use_language(TAG), pytest.raises(StavesightError) as refused:
        refuse()

    assert english_in(refused.value.text, fixed) == []


def test_every_store_size_is_said() -> None:
    """The names that sizes are sold by stay; what they measure is said."""
    with use_language(TAG):
        labels = [size.label for size in STORE_SIZES.values()]

    assert [left for label in labels if (left := english_in(label, tuple(STORE_SIZES)))] == []


def test_a_wish_takes_the_language_in_use() -> None:
    """A reading is asked for in the visitor's language."""
    with use_language(TAG):
        wish = make_wish(TYPED, {"face_1": [A_PHOTO]})

    assert wish.language == TAG
