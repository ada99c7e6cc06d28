"""Rendered boards with exact truth and two real photos, when they lie beside the clone.

The search's limits were chosen while looking at these very photos and at photos from `tests.drawing`; on unseen boards
expect somewhat less.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from service.errors import Problem
from service.photo.decode import open_photo
from service.photo.end import find_end
from service.photo.outline import find_side
from service.photo.quality import usable
from service.photo.straighten import straighten
from service.photo.types import EndView, Outline

SHARED = Path(__file__).resolve().parents[3] / "shared"
BOARDS, PHOTOS = SHARED / "boards", SHARED / "photos"

#: Median distance of each long corner, and distance of an end in view, from the truth, in pixels.
CORNER_PX = 2.0
END_PX = 6.0
#: A real photo's corners, read by eye: share of the picture's width.
BY_EYE = 0.03


def photos(kind: str) -> list[Any]:
    """List the photos of all boards: "photos" or "closeups"."""
    truths = [json.loads(truth_file.read_text()) for truth_file in sorted(BOARDS.glob("*/truth.json"))]
    return [pytest.param(truth, shot, id=shot["file"]) for truth in truths for shot in truth[kind]]


def across_mm(truth: dict[str, Any], shot: dict[str, Any]) -> float:
    """Return how wide the side in a photo is."""
    return float(truth["width_mm" if "face" in shot["side"] else "thickness_mm"])


def misses(found: NDArray[np.float64], true: NDArray[np.float64], along: int) -> float:
    """Median distance across of a long corner from the true one, both (row, col); `along` is the axis it runs on."""
    order = np.argsort(true[:, along])
    inside = (found[:, along] >= true[:, along].min()) & (found[:, along] <= true[:, along].max())
    expected = np.interp(found[inside, along], true[order, along], true[order, 1 - along])
    return float(np.median(np.abs(found[inside, 1 - along] - expected)))


@pytest.mark.skipif(not BOARDS.is_dir(), reason="the rendered boards are not beside the clone")
@pytest.mark.parametrize(("truth", "shot"), photos("photos"))
def test_corners_are_within_two_pixels_of_the_truth(truth: dict[str, Any], shot: dict[str, Any]) -> None:
    """On every whole-length and part photo both corners and the ends in view are found, and the photo is usable."""
    photo = open_photo((BOARDS / shot["file"]).read_bytes(), shot["file"])
    across, length = across_mm(truth, shot), truth["length_mm"]
    outline = find_side(photo, length, across, photos=len(truth["photos"]) // 4)
    assert isinstance(outline, Outline), outline
    true = np.array(shot["outline_px"])[:, ::-1]
    upper, lower = true[: len(true) // 2], true[len(true) // 2 :][::-1]
    along = 0 if shot["board_runs"] == "up" else 1
    assert misses(outline.upper, upper, along) < CORNER_PX
    assert misses(outline.lower, lower, along) < CORNER_PX
    shown = shot["shows_mm"]
    assert outline.marked_end_in_view == (shown[0] == 0)
    assert outline.far_end_in_view == (shown[1] == length)
    for at, in_view in ((0, outline.marked_end_in_view), (-1, outline.far_end_in_view)):
        if in_view:
            off = (outline.upper[at] + outline.lower[at] - upper[at] - lower[at])[along] / 2
            assert abs(off) < END_PX
    strip = straighten(photo, outline, across, length)
    assert (strip.from_mm, strip.to_mm) == pytest.approx(shown, abs=0.006 * length)
    assert usable(photo, outline, strip) is None


@pytest.mark.skipif(not BOARDS.is_dir(), reason="the rendered boards are not beside the clone")
@pytest.mark.parametrize(("truth", "shot"), photos("closeups"))
def test_close_ups_show_the_length_they_show(truth: dict[str, Any], shot: dict[str, Any]) -> None:
    """On every close-up the side is found; its scale, from the width alone, agrees with the truth within its error."""
    photo = open_photo((BOARDS / shot["file"]).read_bytes(), shot["file"])
    outline = find_side(photo, across_mm=across_mm(truth, shot))
    assert isinstance(outline, Outline), outline
    assert not outline.marked_end_in_view
    assert not outline.far_end_in_view
    strip = straighten(photo, outline, across_mm(truth, shot), None)
    shown = shot["shows_mm"][1] - shot["shows_mm"][0]
    assert strip.to_mm - strip.from_mm == pytest.approx(shown, rel=strip.scale_error)
    assert usable(photo, outline, strip) is None


@pytest.mark.skipif(not BOARDS.is_dir(), reason="the rendered boards are not beside the clone")
@pytest.mark.parametrize("truth_file", sorted(BOARDS.glob("*/truth.json")), ids=lambda path: path.parent.name)
def test_every_end_is_found(truth_file: Path) -> None:
    """On every photo of an end its rectangle is found with the board's own proportions."""
    truth = json.loads(truth_file.read_text())
    photo = open_photo((BOARDS / truth["end_photo"]).read_bytes(), "end")
    view = find_end(photo, truth["width_mm"], truth["thickness_mm"])
    assert isinstance(view, EndView)
    sides = np.hypot(*(np.roll(view.corners, -1, axis=0) - view.corners).T)
    proportion = (sides[0] + sides[2]) / (sides[1] + sides[3])
    assert proportion == pytest.approx(truth["width_mm"] / truth["thickness_mm"], rel=0.03)


@pytest.mark.skipif(not PHOTOS.is_dir(), reason="the real photos are not beside the clone")
def test_a_real_board_is_found_where_it_lies() -> None:
    """A real red oak board at a steep view is found within 3 % of the picture's width of corners read by eye."""
    photo = open_photo((PHOTOS / "red_oak_board.jpg").read_bytes(), "red oak")
    outline = find_side(photo)
    assert isinstance(outline, Outline)
    by_eye = np.array([(62, 127), (598, 52), (793, 282), (64, 530)])
    assert np.abs(np.array(outline.corners) - by_eye).max() < BY_EYE * photo.luma.shape[1]


@pytest.mark.skipif(not PHOTOS.is_dir(), reason="the real photos are not beside the clone")
def test_a_board_lying_askew_is_refused_with_what_to_do() -> None:
    """A real panel that runs over the picture's diagonal is refused, and told to be laid from side to side."""
    problem = find_side(open_photo((PHOTOS / "softwood_panel.jpg").read_bytes(), "panel"))
    assert isinstance(problem, Problem)
    assert problem.code == "no_board"
    assert "from side to side" in problem.text
