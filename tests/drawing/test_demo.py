"""The demo boards in the tree are the ones drawn here, and each shows its case beyond doubt."""

import json
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from service.sides import SIDES
from tests.drawing.demo import DEMOS, Demo, demo_truth, end_photo

FOLDER = Path(__file__).parents[2] / "demo_photos"
#: What the demo boards may take together, so that a clone stays light.
MOST_BYTES = 20_000_000
#: A passing demo board uses at most this share of the limit, a failing one at least that.
CLEAR_PASS, CLEAR_FAIL = 0.6, 1.5
EACH = pytest.mark.parametrize("demo", DEMOS, ids=lambda demo: demo.folder)


def stored(demo: Demo) -> dict[str, Any]:
    """Return what stands in the tree about a demo board."""
    truth: dict[str, Any] = json.loads((FOLDER / demo.folder / "truth.json").read_text())
    return truth


@EACH
def test_stored_truth_is_that_of_the_solid(demo: Demo) -> None:
    """The truth in the tree is what the solid and the limits give today."""
    truth = stored(demo)
    del truth["photos"]
    assert truth == json.loads(json.dumps(demo_truth(demo)))


@EACH
def test_photos_are_there_full_size_and_without_a_place(demo: Demo) -> None:
    """Every photo named in the truth is there, of the size phones make, none says where it was taken."""
    names = {photo["file"] for photo in stored(demo)["photos"]}
    assert {f"{side}.jpg" for side in SIDES} | {"face_1_close.jpg", "edge_1_close.jpg", "end.jpg"} <= names
    assert names | {"truth.json"} == {file.name for file in (FOLDER / demo.folder).iterdir()}
    for name in names:
        with Image.open(FOLDER / demo.folder / name) as photo:
            assert sorted(photo.size) == [3024, 4032]
            assert not photo.getexif().get_ifd(0x8825)


@EACH
def test_stored_end_photo_is_the_drawn_one(demo: Demo) -> None:
    """Drawn again, the end photo is the one in the tree, up to what JPEG writers differ in."""
    drawn = np.asarray(Image.open(BytesIO(end_photo(demo)[0])), np.float32)
    there = np.asarray(Image.open(FOLDER / demo.folder / "end.jpg"), np.float32)
    assert np.abs(drawn - there).mean() < 1.0


def test_each_case_is_clear() -> None:
    """Pass with an end to cut off; pass with one right back; fail by a knot; fail by slope: each far from its limit."""
    bad_end, two_faced, knotty, spiral = (stored(demo) for demo in DEMOS)
    assert bad_end["limits_truth"]["share_of_limit_used"] <= CLEAR_PASS
    assert bad_end["expected"]["section_start_mm"][1] < bad_end["length_mm"] - bad_end["bow_length_mm"] - 400
    shares = two_faced["limits_truth"]["back_shares"]
    assert two_faced["expected"]["back"] == "face_1"
    assert shares["face_1"] <= CLEAR_PASS and shares["face_2"] > 1.5 * shares["face_1"]
    assert knotty["limits_truth"]["because"] == "knot"
    assert spiral["limits_truth"]["share_of_limit_used"] >= CLEAR_FAIL


def test_spiral_board_looks_straight_by_its_ring_lines() -> None:
    """On the edges of the turned board, where rings draw lines, these stay within 1 in 80 while the fibre fails."""
    truth = stored(DEMOS[3])["sides"]
    for side in ("edge_1", "edge_2"):
        assert np.abs(np.array(truth[side]["ring_deg_mid"], float)).max() < np.degrees(1 / 80)
    assert np.abs(np.array(truth["face_1"]["angle_deg"], float)).min() > np.degrees(1 / 10)


def test_all_together_stay_light() -> None:
    """The demo boards take less than 20 MB together."""
    assert sum(file.stat().st_size for file in FOLDER.rglob("*") if file.is_file()) < MOST_BYTES
