"""The drawn boards are what their truth says: fibres, rings, sides, photos and the right answer."""

from io import BytesIO
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageOps
from scipy.ndimage import map_coordinates
from skimage.feature import structure_tensor
from skimage.filters import gaussian
from skimage.transform import rescale

from service.sides import SIDES, side_below, side_opposite
from tests.drawing import (
    Camera,
    Knot,
    Marks,
    Scene,
    Solid,
    over_part,
    over_whole,
    photograph,
    photograph_end,
    random_camera,
    random_scene,
    random_solid,
    side_texture,
    truth_of,
)
from tests.drawing.limits_truth import limits_truth
from tests.drawing.looks import LOOKS, PALE, TAN, Look
from tests.drawing.solid import fibre_slopes, line_slope_on_side, on_side, place, ring_gradient, slope_on_side

Array = NDArray[Any]

#: A drawn angle may differ from the geometry by this: the estimator's own error on short strips.
ANGLE_TOLERANCE_DEG = 0.25
#: A drawn long corner may differ from its truth by this in the mean over its length.
CORNER_TOLERANCE_PX = 0.3


def level(diagonal: float, spiral: float, tilt_deg: float, **changes: Any) -> Solid:
    """Make a 1000 mm board with constant slopes and a far pith, its rings tilted against face 1."""
    tilt = np.radians(tilt_deg)
    pith = (19.05 - 500 * float(np.sin(tilt)), 9.5 - 500 * float(np.cos(tilt)))
    return Solid(5, 1000.0, 38.1, 19.0, pith, ((0.0, diagonal),), ((0.0, spiral),), **changes)


def tensor_angle_deg(strip: Array, smooth_px: float = 1.5) -> float:
    """Measure the mean line angle of a strip, positive rising, with scikit-image's structure tensor.

    Its derivative reads too straight on fine patterns, so the strip is smoothed and enlarged first.
    """
    large = rescale(gaussian(strip - strip.mean(axis=0, keepdims=True), smooth_px, mode="reflect"), 2, order=3)
    rows, cross, cols = structure_tensor(large, sigma=2.0, mode="reflect", order="rc")
    trim = slice(12, -12)
    down, along, both = (part[trim, trim].sum() for part in (rows, cols, cross))
    return float(np.degrees(0.5 * np.arctan2(2 * both, down - along)))


CURVED = Solid(
    3, 1500.0, 50.0, 20.0, (-60.0, -80.0), ((0.0, 0.03), (700.0, -0.02), (1500.0, 0.04)), ((0.0, -0.05), (1500.0, 0.06)),
    (Knot(600.0, 20.0, 9.0, (0.6, 0.8), 6.0), Knot(900.0, 30.0, 12.0, (0.0, 1.0), 5.0)),
)  # fmt: skip


@pytest.fixture
def points() -> tuple[Array, Array, Array]:
    """Points inside the curved board, some of them close to its knots."""
    rng = np.random.default_rng(1)
    along = np.concatenate([rng.uniform(0, 1490, 300), rng.uniform(570, 630, 100), rng.uniform(870, 930, 100)])
    return along, rng.uniform(0, 50, 500), rng.uniform(0, 20, 500)


def test_fibres_lie_in_the_ring_surfaces(points: tuple[Array, Array, Array]) -> None:
    """The fibre's direction has no part across the rings, round knots too."""
    slope_y, slope_z = fibre_slopes(CURVED, *points)
    by_along, by_y, by_z = ring_gradient(CURVED, *points)
    assert np.abs(by_along + slope_y * by_y + slope_z * by_z).max() < 1e-9


def test_a_fibre_keeps_its_place_in_the_tree(points: tuple[Array, Array, Array]) -> None:
    """Following the stated slopes a short way leads to points that come from the same fibre."""
    along, y_mm, z_mm = points
    step = 0.01
    slope_y, slope_z = fibre_slopes(CURVED, along, y_mm, z_mm)
    before = place(CURVED, along - step, y_mm - step * slope_y, z_mm - step * slope_z)
    after = place(CURVED, along + step, y_mm + step * slope_y, z_mm + step * slope_z)
    moved = np.hypot(after.y_start - before.y_start, after.z_start - before.z_start) / (2 * step)
    # A knot's rim is a kink: the few steps that cross it are left out.
    assert np.quantile(moved, 0.97) < 1e-3


def test_ring_gradient_is_the_slope_of_the_distance_from_the_pith(points: tuple[Array, Array, Array]) -> None:
    """The stated gradient is the difference quotient of the distance from the pith."""

    def distance(*at: Array) -> Array:
        where = place(CURVED, *at)
        return np.hypot(where.y_here, where.z_here)

    for axis, stated in enumerate(ring_gradient(CURVED, *points)):
        ahead, behind = ([part + way * 1e-4 * (index == axis) for index, part in enumerate(points)] for way in (1, -1))
        error = np.abs((distance(*ahead) - distance(*behind)) / 2e-4 - stated)
        assert np.quantile(error, 0.97) < 1e-4


@pytest.mark.parametrize("tilt_deg", [0.0, 30.0, 45.0, 90.0])
def test_slopes_at_the_middle_are_diagonal_and_spiral(tilt_deg: float) -> None:
    """At the middle a = d n_y - s n_z and b = d n_z + s n_y, the relation of diagonal and spiral grain.

    Source: the fibre lies in the ring surface (ANC-19, 1943, 2.302-2.3023: spiral grain in the tangential, diagonal
    grain in the radial plane); the combined slope is the root of the sum of squares (ANC-19, Table 2-11).
    """
    board = level(0.05, 0.04, tilt_deg)
    a, b = fibre_slopes(board, np.array(0.0), np.array(19.05), np.array(9.5))
    n_y, n_z = np.sin(np.radians(tilt_deg)), np.cos(np.radians(tilt_deg))
    assert (float(a), float(b)) == pytest.approx((0.05 * n_y - 0.04 * n_z, 0.05 * n_z + 0.04 * n_y), abs=1e-9)
    assert float(np.hypot(a, b)) == pytest.approx(np.hypot(0.05, 0.04))


def test_combined_slope_of_a_published_example() -> None:
    """1 in 15 and 1 in 20 combine to 1 in 12.0 (ANC-19, 1943, Table 2-11)."""
    a, b = fibre_slopes(level(1 / 15, 1 / 20, 33.0), np.array(0.0), np.array(19.05), np.array(9.5))
    assert 1 / float(np.hypot(a, b)) == pytest.approx(12.0, abs=0.05)


def test_ring_lines_slope_by_diagonal_over_normal() -> None:
    """Lines have slope d / n_y on face 1 and d / n_z on edge 1, whatever the spiral."""
    board = level(0.03, 0.07, 40.0)
    at = np.array([0.0])
    for side in ("face_1", "edge_1"):
        y_mm, z_mm = on_side(board, side, at + board.across_mm(side) / 2)
        n = np.array([y_mm[0] - board.pith_mm[0], z_mm[0] - board.pith_mm[1]])
        n /= np.linalg.norm(n)
        diagonal = 0.03 * float(n @ board.normal_yz)
        line = float(line_slope_on_side(board, side, at, at + board.across_mm(side) / 2)[0])
        assert line == pytest.approx(diagonal / n[0 if side == "face_1" else 1])


@pytest.mark.parametrize("side", SIDES)
def test_neighbouring_sides_share_their_corner(side: str) -> None:
    """A side's lower corner is the upper corner of the next one: the same points and the same wood."""
    below = side_below(side)
    here = on_side(CURVED, side, np.zeros(1))
    there = on_side(CURVED, below, np.full(1, CURVED.across_mm(below)))
    assert [float(part[0]) for part in here] == [float(part[0]) for part in there]
    rows = [side_texture(CURVED, name, 20.0, 300.0, 500.0)[row] for name, row in ((side, -1), (below, 0))]
    assert np.corrcoef(*rows)[0, 1] > 0.8


@pytest.mark.parametrize("side", ["face_1", "edge_1"])
def test_opposite_sides_mirror(side: str) -> None:
    """With a far pith, what rises on a side falls equally on the opposite one; crook does so exactly."""
    board = level(0.03, 0.04, 40.0, crook_mm=4.0, bow_mm=-3.0)
    along, middle = np.linspace(0, 1000, 11), board.across_mm(side) / 2
    here, there = (slope_on_side(board, name, along, np.array(middle)) for name in (side, side_opposite(side)))
    assert np.abs(here).min() > 0.005
    assert here == pytest.approx(-there, abs=0.004)
    assert board.crook_at(side, along) == pytest.approx(-board.crook_at(side_opposite(side), along))


@pytest.mark.parametrize("look", LOOKS.values(), ids=LOOKS)
@pytest.mark.parametrize(("side", "tilt_deg"), [("face_1", 0.0), ("face_2", 0.0), ("edge_1", 90.0), ("edge_2", 90.0)])
def test_fine_texture_follows_the_fibre(side: str, tilt_deg: float, look: Look) -> None:
    """Where rings make no lines, the drawn texture runs at the fibre's slope (1 in 14), with its sign.

    Measured with scikit-image's structure tensor, which knows nothing of how it was drawn.
    """
    board = level(0.001, 1 / 14, tilt_deg, look=look)
    slope = float(slope_on_side(board, side, np.array(350.0), np.array(board.across_mm(side) / 2)))
    assert (slope > 0) is (side in ("face_2", "edge_1"))
    measured = tensor_angle_deg(side_texture(board, side, 12.0, 310.0, 390.0))
    assert measured == pytest.approx(np.degrees(np.arctan(slope)), abs=ANGLE_TOLERANCE_DEG)


@pytest.mark.parametrize("look", LOOKS.values(), ids=LOOKS)
@pytest.mark.parametrize("side", SIDES)
def test_lines_seen_from_afar_are_the_rings(side: str, look: Look) -> None:
    """At a whole-length photo's scale the lines of a rift board run nearer to the rings than to the fibre."""
    board = level(0.04, 0.0, 45.0, look=look)
    at, middle = np.array(500.0), np.array(board.across_mm(side) / 2)
    rings, fibre = (
        float(np.degrees(np.arctan(find(board, side, at, middle)))) for find in (line_slope_on_side, slope_on_side)
    )
    measured = tensor_angle_deg(side_texture(board, side, 3.0))
    assert abs(measured - rings) < 0.4 * abs(rings - fibre)


def test_end_shows_rings_with_y_to_the_left() -> None:
    """Head on with face 1 up, rings whose normal points up and to y's end lean as y running left demands."""
    jpeg, truth = photograph_end(level(0.0, 0.0, 45.0, look=TAN), over_part(19.0, 80.0, cols=1200, rows=900), Scene(1))
    picture = np.asarray(Image.open(BytesIO(jpeg)).convert("L"), np.float64) / 255
    cols, rows = np.array(truth["corners_px"]).T
    cut = picture[int(rows.min()) + 12 : int(rows.max()) - 12, int(cols.min()) + 12 : int(cols.max()) - 12]
    # Normal (0.7, 0.7) in (y, z) points up and left in the picture: its lines rise to the right at 45 degrees.
    assert tensor_angle_deg(cut) == pytest.approx(45.0, abs=8.0)


def edge_rows(picture: Array, outline: Array) -> Array:
    """Find, near each outline point, the row where brightness changes most down the column."""
    offsets = np.linspace(-5, 5, 201)
    found = []
    for col, row in outline:
        profile = np.mean(
            [map_coordinates(picture, [row + offsets, np.full(201, col + shift)], order=1) for shift in range(-25, 26)],
            axis=0,
        )
        change = np.abs(np.gradient(profile))
        found.append(row + float((offsets * change**2).sum() / (change**2).sum()))
    return np.array(found)


@pytest.mark.parametrize("side", ["face_1", "edge_2"])
def test_outline_lies_on_the_corners(side: str) -> None:
    """The stated outline lies where the brightness of the picture changes, bowing, crook and tilt included."""
    board = random_solid(4, look=PALE, diagonal=0.01)
    camera = random_camera(4, board, cols=2016, rows=1512, bowing=0.02)
    jpeg, truth = photograph(board, side, camera, Scene(3, noise=0.0, uneven=0.0))
    picture = np.asarray(Image.open(BytesIO(jpeg)).convert("L"), np.float64)
    outline = np.array(truth["outline_px"])[2:19] if camera.tilt_up_deg < 0 else np.array(truth["outline_px"])[23:40]
    assert np.abs(edge_rows(picture, outline) - outline[:, 1]).mean() < CORNER_TOLERANCE_PX


def test_photo_shows_the_fibre_at_its_angle() -> None:
    """A close-up straightened by its true corners shows the fibre of the truth, through camera, noise and JPEG."""
    board = level(0.001, 1 / 14, 0.0, look=TAN)
    camera = over_part(500.0, 200.0, tilt_up_deg=3.0, tilt_along_deg=-2.0, roll_deg=1.5, cols=2016, rows=1512)
    jpeg, truth = photograph(board, "face_1", camera, Scene(2))
    picture = np.asarray(Image.open(BytesIO(jpeg)).convert("L"), np.float32)
    length = (truth["shows_mm"][1] - truth["shows_mm"][0]) * 10
    flat = np.array([[0, 0], [length, 0], [length, 381], [0, 381]], np.float32) - 0.5
    turn = cv2.getPerspectiveTransform(np.array(truth["corners_px"], np.float32), flat)
    strip = cv2.warpPerspective(picture, turn, (round(length), 381), flags=cv2.INTER_CUBIC)[20:-20, 20:-20]
    at = np.interp(500.0, *(np.array(truth_of(board)["sides"]["face_1"][key]) for key in ("positions_mm", "angle_deg")))
    assert tensor_angle_deg(strip) == pytest.approx(float(at), abs=ANGLE_TOLERANCE_DEG)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
@pytest.mark.parametrize("portrait", [False, True])
def test_photos_stand_upright_once_turned_as_the_file_says(orientation: int, portrait: bool) -> None:
    """However the file is turned, upright the marked end (taped blue) is left, or at the bottom of a portrait photo."""
    board = random_solid(2, look=PALE)
    camera = over_whole(board.length_mm, cols=1008, rows=756)
    scene = Scene(1, marks=Marks(tape=True), portrait=portrait, orientation=orientation)
    jpeg, truth = photograph(board, "face_1", camera, scene)
    upright = ImageOps.exif_transpose(Image.open(BytesIO(jpeg)))
    assert upright is not None
    assert upright.size == ((756, 1008) if portrait else (1008, 756))
    corners = np.array(truth["corners_px"])
    inward = (corners[[1, 2]].mean(axis=0) - corners[[0, 3]].mean(axis=0)) * 0.004
    red, _, blue = upright.getpixel(tuple(map(int, np.round(corners[[0, 3]].mean(axis=0) + inward))))  # type: ignore[misc]
    assert blue > red + 40
    marked, far = corners[[0, 3]].mean(axis=0), corners[[1, 2]].mean(axis=0)
    assert marked[1] > far[1] + 500 if portrait else marked[0] < far[0] - 500


def test_file_notes_tell_focal_length_and_place_only_when_asked() -> None:
    """Photos carry the 35 mm focal length; a place is written only into photos meant to test its removal."""
    board, camera = random_solid(2), over_whole(2438.4, cols=504, rows=378)
    for gps in (False, True):
        notes = Image.open(BytesIO(photograph(board, "edge_1", camera, Scene(1, gps=gps))[0])).getexif()
        assert notes.get_ifd(0x8769)[0xA405] == 26
        assert bool(notes.get_ifd(0x8825)) is gps


def test_same_seed_same_photo_other_seed_other_photo() -> None:
    """Everything comes from the seed."""

    def once(seed: int) -> bytes:
        board = random_solid(seed)
        return photograph(board, "face_1", random_camera(seed, board, cols=504, rows=378), random_scene(seed))[0]

    assert once(6) == once(6)
    assert once(6) != once(7)


def test_camera_sends_rays_back_through_its_own_pixels() -> None:
    """A point projected into the picture lies on the ray of its pixel, lens bowing included."""
    camera = Camera(300.0, 900.0, 5.0, 4.0, -3.0, 2.0, bowing=0.02)
    along, up, out = np.array([0.0, 350.0, 700.0]), np.array([-60.0, 10.0, 80.0]), np.array([0.0, -15.0, 4.0])
    ray, centre = camera.rays(*camera.project(along, up, out)), camera.centre()
    reach = (out - centre[2]) / ray[2]
    assert centre[0] + reach * ray[0] == pytest.approx(along, abs=1e-3)
    assert centre[1] + reach * ray[1] == pytest.approx(up, abs=1e-3)


def test_knot_truth_is_where_the_dark_ellipse_is_drawn() -> None:
    """A knot through the faces shows dark inside its stated rectangle on both faces, mirrored, on no edge."""
    board = level(0.0, 0.0, 0.0, knots=(Knot(500.0, 12.0, 9.5, (0.0, 1.0), 5.0),))
    sides = truth_of(board)["sides"]
    assert not sides["edge_1"]["knots"]
    for side, middle in (("face_1", 12.0), ("face_2", 38.1 - 12.0)):
        (box,) = sides[side]["knots"]
        assert (box["across_from_mm"] + box["across_to_mm"]) / 2 == pytest.approx(middle, abs=0.2)
        strip = side_texture(board, side, 4.0)
        rows = slice(round((38.1 - box["across_to_mm"]) * 4), round((38.1 - box["across_from_mm"]) * 4))
        inside = strip[rows, round(box["from_mm"] * 4) : round(box["to_mm"] * 4)]
        assert inside.mean() < strip.mean() - 0.25


@pytest.mark.parametrize("side", SIDES)
def test_runoffs_of_an_even_slope_follow_from_hand_arithmetic(side: str) -> None:
    """Line k of nine leaves after (10 - k) / 10 of the width over the slope, or k / 10 where it falls."""
    board = level(0.06, 0.0, 45.0)
    truth = truth_of(board)["sides"][side]
    slope = float(np.mean(np.tan(np.radians(truth["angle_deg"]))))
    for run in truth["runoffs"]:
        share = 1 - run["line"] / 10 if slope > 0 else run["line"] / 10
        assert run["position_mm"] == pytest.approx(board.across_mm(side) * share / abs(slope), rel=0.04)
        assert run["over"] == (SIDES[SIDES.index(side) - 1] if slope > 0 else side_below(side))
    assert len(truth["runoffs"]) == (9 if side.startswith("edge") else len(truth["runoffs"]))


def flat(diagonal: Any, **changes: Any) -> Solid:
    """Make an 8 ft flat-sawn 1x2 with the diagonal as the only slope."""
    return Solid(9, 2438.4, 38.1, 19.05, (19.05, -600.0), diagonal, ((0.0, 0.0),), **changes)


def test_limits_truth_of_an_even_board_is_slope_over_limit() -> None:
    """Even 1 in 40 against the back's 1 in 20 uses half the limit and passes; 1 in 10 uses twice and fails."""
    gentle = limits_truth(flat(((0.0, 1 / 40),)), 1727.2)
    assert (gentle["answer"], gentle["because"]) == ("pass", "ok")
    assert gentle["share_of_limit_used"] == pytest.approx(0.5, abs=0.02)
    steep = limits_truth(flat(((0.0, 0.1),)), 1727.2)
    assert (steep["answer"], steep["because"]) == ("fail", "slope")
    assert steep["share_of_limit_used"] == pytest.approx(2.0, abs=0.06)


def test_limits_truth_keeps_off_a_steep_end() -> None:
    """With the last 500 mm at 1 in 8 the section must end before them."""
    bad_end = flat(((0.0, 0.01), (1850.0, 0.01), (1950.0, 0.125), (2438.4, 0.125)))
    truth = limits_truth(bad_end, 1727.2)
    assert truth["answer"] == "pass"
    assert truth["starts_mm"][0] == 0.0
    assert truth["starts_mm"][1] < 1950.0 - 1727.2
    assert limits_truth(bad_end, 2200.0)["answer"] == "fail"


def test_limits_truth_counts_knots_and_length() -> None:
    """A knot in the middle leaves no 68 in section in 8 ft but a 44 in one; a bow longer than the board is too short."""
    knotty = flat(((0.0, 0.01),), knots=(Knot(1219.0, 19.0, 9.0, (0.0, 1.0), 4.0),))
    assert limits_truth(knotty, 1727.2)["because"] == "knot"
    assert limits_truth(knotty, 1117.6)["answer"] == "pass"
    assert limits_truth(knotty, 2500.0)["because"] == "too_short"


def test_limits_truth_takes_slopes_against_the_sections_own_line() -> None:
    """A board bent as its fibres are is as straight as a straight one within its own arc's small rest."""
    bent = flat(((0.0, 0.0),), crook_mm=20.0)
    # The arc's mid-line slopes from +4h/L to -4h/L: 0.0328 at its ends, against a chord of slope 0.
    expected = 4 * 20.0 / 2438.4 * (1 - 76.0 / 2 / 2438.4) / 0.05
    assert limits_truth(bent, 2436.0)["share_of_limit_used"] == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("name", ["tilt_along_deg", "tilt_up_deg", "roll_deg"])
def test_camera_signs(name: str) -> None:
    """Moved to the far end the lens sees the marked end smaller; moved up it sees the lower side of the picture nearer."""
    board = flat(((0.0, 0.0),))
    _, truth = photograph(board, "face_1", over_whole(2438.4, cols=504, rows=378, **{name: 6.0}), Scene(1))
    (upper_col, upper_row), (far_upper_col, far_upper_row), (_, far_lower_row), (_, lower_row) = truth["corners_px"]
    if name == "tilt_along_deg":
        assert lower_row - upper_row < far_lower_row - far_upper_row
    elif name == "tilt_up_deg":
        plain = photograph(board, "face_1", over_whole(2438.4, cols=504, rows=378), Scene(1))[1]["corners_px"]
        assert far_upper_col - upper_col > plain[1][0] - plain[0][0]
    else:
        assert far_upper_row < upper_row
