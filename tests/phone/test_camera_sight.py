"""What the live picture's guide says of drawn boards whose tilt, ends and light are known."""

import base64
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from typing import Any, Final

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page

from tests.drawing.camera import Camera, over_part, over_whole
from tests.drawing.ground import GROUNDS, Lies, paint_ground
from tests.drawing.looks import OPEN, PALE, TAN
from tests.drawing.photo import Scene, photograph
from tests.drawing.solid import Solid

pytestmark = pytest.mark.phone

PICTURE: Final = {"cols": 1280, "rows": 960}
TILT_DEG: Final = 1.0  # how wrong the tilt may be
END: Final = 0.03  # and an end, as a share of the picture's length
HAND_MM: Final = 180.0

LONG: Final = Solid(
    71, 2438.4, 38.1, 19.05, (30.0, -210.0), ((0.0, 0.01), (2438.4, 0.02)), ((0.0, -0.01), (2438.4, 0.0)), look=PALE
)  # fmt: skip
SHORT: Final = replace(LONG, seed=72, length_mm=1828.8, crook_mm=3.0, look=TAN)
WIDE: Final = replace(LONG, seed=73, width_mm=63.5, look=OPEN)

#: Board, side, share of the picture it fills, how far it is turned, on what it lies, whether the phone is upright,
#: and what is to be said.
BOARDS: Final = {
    "straight on a floor": (LONG, "face_1", 0.90, 0.5, "floor", False, "good"),
    "upright": (SHORT, "face_2", 0.85, -1.5, "floor", True, "good"),
    "an edge on carpet": (LONG, "edge_1", 0.88, 1.0, "carpet", False, "good"),
    "among clutter": (WIDE, "face_1", 0.80, -0.5, "clutter", True, "good"),
    "turned counter-clockwise": (LONG, "face_1", 0.90, 7.0, "carpet", False, "turn back"),
    "turned clockwise": (WIDE, "face_2", 0.85, -5.0, "plywood", False, "turn"),
    "an edge, upright and turned": (SHORT, "edge_2", 0.80, 8.5, "floor", True, "turn back"),
    "between seams of tiles": (SHORT, "face_1", 0.80, -6.0, "tiles", False, "turn"),
    "from far": (SHORT, "face_1", 0.50, 2.0, "floor", False, "far"),
    "an edge from far": (WIDE, "edge_1", 0.55, -1.0, "plywood", True, "far"),
}  # fmt: skip

LOOK: Final = """async ([photos, wanted]) => {
  const { greyOf, hintOf, look, movedBetween } = await import("/static/camera_sight.js")
  const frames = []
  for (const photo of photos) {
    const image = new Image()
    image.src = photo
    await image.decode()
    const pen = document.createElement("canvas").getContext("2d", { willReadFrequently: true })
    frames.push(greyOf(image, image.naturalWidth, image.naturalHeight, pen, wanted))
  }
  const moved_px = movedBetween(frames.at(-2), frames.at(-1))
  const seen = look(frames.at(-1), wanted)
  return { ...seen, moved_px, hint: hintOf(seen, moved_px, wanted)[0] }
}"""


@pytest.fixture(scope="module")
def page(browser: Browser, address: str) -> Iterator[Page]:
    """Open a page of the app, whose scripts can be asked."""
    page = browser.new_page()
    page.goto(f"{address}/bow")
    yield page
    page.close()


def seen(page: Page, *photos: bytes, thin: float, kind: str = "whole", known: bool = True) -> dict[str, Any]:
    """Show photos one after the other and return what is seen in the last, and said."""
    sources = [f"data:image/jpeg;base64,{base64.b64encode(photo).decode()}" for photo in photos]
    found: dict[str, Any] = page.evaluate(LOOK, [sources, {"thin": thin, "kind": kind, "known": known}])
    return found


def ends_of(corners_px: list[list[float]]) -> np.ndarray[Any, Any]:
    """Return the middle of the marked end and of the far end, [col, row]."""
    corners = np.array(corners_px)
    return np.array([(corners[0] + corners[3]) / 2, (corners[1] + corners[2]) / 2])


@pytest.mark.parametrize("case", BOARDS)
def test_tilt_and_ends_are_found_and_the_right_hint_is_given(page: Page, case: str) -> None:
    """Tilt within 1 degree and ends within 3 % of the picture, on every ground; then what to do follows."""
    board, side, fill, roll_deg, ground, portrait, hint = BOARDS[case]
    camera = over_whole(board.length_mm, fill, roll_deg=roll_deg, tilt_up_deg=4.0, tilt_along_deg=3.0, **PICTURE)
    scene = Scene(seed=len(case), place=len(case), ground=ground, portrait=portrait, noise=0.02, shadow=fill > 0.85)
    photo, truth = photograph(board, side, camera, scene)

    found = seen(page, photo, thin=board.across_mm(side) / board.length_mm)

    marked, far = ends_of(truth["corners_px"])
    col, row = far - marked
    tilt_deg = np.degrees(np.arctan2(-col, -row) if portrait else np.arctan2(-row, col))
    ends = [1 - marked[1] / 1280, 1 - far[1] / 1280] if portrait else [marked[0] / 1280, far[0] / 1280]
    assert found["board"]["tilt_deg"] == pytest.approx(tilt_deg, abs=TILT_DEG)
    assert [found["board"]["from"], found["board"]["to"]] == pytest.approx(ends, abs=END)
    assert found["hint"] == hint


@pytest.mark.parametrize("ground", GROUNDS)
def test_nothing_is_said_where_there_is_no_board(page: Page, ground: str) -> None:
    """On a bare ground, seams and clutter among them, the board is asked for and nothing is made up."""
    camera = Camera(900.0, 2000.0, **PICTURE)
    picture = paint_ground(camera, ground, Lies(0.0, 0.0, ()), 8)
    written = BytesIO()
    Image.fromarray(np.clip(255 * picture, 0, 255).astype(np.uint8)).save(written, "JPEG", quality=90)

    for known in (True, False):
        assert seen(page, written.getvalue(), thin=0.0156, known=known)["hint"] == "lost"


def test_an_end_out_of_view_is_told(page: Page) -> None:
    """A board longer than the picture is wide is photographed from too near, or in parts: those may be cut off."""
    photo, _ = photograph(LONG, "face_1", over_part(700.0, 1600.0, **PICTURE), Scene(seed=4))

    thin = LONG.across_mm("face_1") / LONG.length_mm
    assert seen(page, photo, thin=thin)["hint"] == "near"
    assert seen(page, photo, thin=thin, kind="part")["hint"] == "good"


def test_a_close_up_is_held_to_its_long_corners(page: Page) -> None:
    """A hand's length fills the picture: its edges are found, not the grain lines between them."""
    camera = over_part(900.0, HAND_MM, roll_deg=2.0, **PICTURE)
    photo, _ = photograph(WIDE, "face_1", camera, Scene(seed=6))

    found = seen(page, photo, thin=WIDE.across_mm("face_1") / HAND_MM, kind="close")

    assert found["hint"] == "good"
    assert found["board"]["tilt_deg"] == pytest.approx(2.0, abs=TILT_DEG)
    assert found["board"]["width_px"] == pytest.approx(480 * WIDE.width_mm / HAND_MM, rel=0.1)


def test_an_unknown_size_does_not_hinder(page: Page) -> None:
    """Where the size is not known, a board is looked for by what boards of a store are like."""
    photo, _ = photograph(WIDE, "face_1", over_whole(WIDE.length_mm, 0.9, **PICTURE), Scene(seed=9, ground="carpet"))

    assert seen(page, photo, thin=0.02, known=False)["hint"] == "good"


def test_darkness_comes_before_all_else(page: Page) -> None:
    """In a dark corner light is asked for, whatever else is seen."""
    camera = over_whole(LONG.length_mm, 0.9, roll_deg=7.0, **PICTURE)
    photo, _ = photograph(LONG, "face_1", camera, Scene(seed=5, light=0.12))

    assert seen(page, photo, thin=0.0156)["hint"] == "dark"


def test_a_moving_phone_is_told_from_a_noisy_picture(page: Page) -> None:
    """A move of 1 % of the picture between two looks asks for a still hand; noise and a brighter picture do not."""
    camera = over_whole(LONG.length_mm, 0.85, **PICTURE)
    first, _ = photograph(LONG, "face_1", camera, Scene(seed=3, place=3, uneven=0))
    noisy, _ = photograph(LONG, "face_1", camera, Scene(seed=4, place=3, uneven=0, noise=0.03, light=1.1))
    aside = replace(camera, along_mm=camera.along_mm + 29.0, up_mm=9.0)
    moved, _ = photograph(LONG, "face_1", aside, Scene(seed=3, place=3, uneven=0))

    assert seen(page, first, noisy, thin=0.0156)["hint"] == "good"
    assert seen(page, first, moved, thin=0.0156)["hint"] == "moves"
