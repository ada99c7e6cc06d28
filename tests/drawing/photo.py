"""A phone photo of a board: the scene painted, lit, blurred, made noisy, and written as JPEG."""

from dataclasses import dataclass, field
from io import BytesIO
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tests.drawing.board_view import Lying, paint_board, shown_range
from tests.drawing.camera import Camera
from tests.drawing.end_view import end_corners, paint_end
from tests.drawing.ground import Lies, paint_ground
from tests.drawing.marks import PLAIN, Marks
from tests.drawing.noise import sensor_tile
from tests.drawing.solid import Solid

Array = NDArray[Any]
Truth = dict[str, Any]

_BAND_ROWS = 256
#: How far behind the board's end what stands behind it is.
_BEHIND_MM = 900.0
#: Numbers of the notes in the file (Exif 2.3): how it is turned, where the rest stands, the focal length.
_ORIENTATION, _EXIF, _GPS, _F35 = 0x0112, 0x8769, 0x8825, 0xA405


@dataclass(frozen=True)
class Scene:
    """Everything about a photo but board and camera.

    Attributes
    ----------
    seed, place
        Decide every chance detail; `place` that of the ground, so that several photos can share it.
    ground, below_mm
        One of `ground.GROUNDS`, and how far it lies below the board's underside (trestles).
    beside
        Boards lying alongside, in turn above and below, `gap_mm` apart.
    marks
        What is on the wood.
    light
        Brightness; `uneven` is the share it changes over the picture, `tint` its red, green, blue.
    shadow
        A person's soft shadow across the board.
    blur_px, motion_px, noise
        Lens and focus blur (standard deviation), hand shake (length), noise (standard deviation).
    portrait
        The phone held upright: the board runs up, marked end at the bottom.
    orientation, gps, quality
        How the file says it is turned (1, 3, 6 or 8), whether it says where it was taken, JPEG quality.
    """

    seed: int = 0
    place: int | None = None
    ground: str = "floor"
    below_mm: float = 0.0
    beside: tuple[Solid, ...] = field(default=())
    gap_mm: float = 2.0
    marks: Marks = PLAIN
    light: float = 1.0
    uneven: float = 0.15
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)
    shadow: bool = False
    blur_px: float = 0.6
    motion_px: float = 0.0
    noise: float = 0.010
    portrait: bool = False
    orientation: int = 1
    gps: bool = False
    quality: int = 88

    @property
    def ground_seed(self) -> int:
        """What decides the ground."""
        return self.seed if self.place is None else self.place


#: Even daylight on a plain floor.
DAYLIGHT: Final = Scene()


def _light(scene: Scene) -> Array:
    """Return the factors of light, a small picture of shape (rows, cols, 3)."""
    rng = np.random.default_rng([scene.seed, 29])
    rows, cols = np.meshgrid(np.linspace(-0.75, 0.75, 96), np.linspace(-1.0, 1.0, 128), indexing="ij")
    turn = rng.uniform(0, 2 * np.pi)
    slant = 1 + scene.uneven * (np.cos(turn) * cols + np.sin(turn) * rows)
    factor = scene.light * slant * (1 - 0.12 * (rows**2 + cols**2))
    if scene.shadow:
        lean, begin, wide = rng.uniform(-0.8, 0.8), rng.uniform(-0.5, 0.5), rng.uniform(0.10, 0.25)
        edge = np.abs(cols - begin - lean * rows) - wide * (1 + 0.4 * rows)
        factor = factor * (1 - 0.42 / (1 + np.exp(edge / 0.025)))
    return np.asarray(factor[..., None] * np.array(scene.tint), np.float32)


def _expose(picture: Array, camera: Camera, scene: Scene) -> NDArray[np.uint8]:
    """Light, blur and noise: float picture in, 8-bit picture out."""
    if scene.motion_px:
        reach = max(3, 2 * round(scene.motion_px) + 1)
        kernel = np.zeros((reach, reach), np.float32)
        end = round(scene.motion_px / 2)
        cv2.line(
            kernel,
            (reach // 2 - end, reach // 2 - end // 2),
            (reach // 2 + end, reach // 2 + end // 2),
            (1.0,),
            1,
            cv2.LINE_AA,
        )
        picture = cv2.filter2D(picture, -1, kernel / kernel.sum())
    if scene.blur_px:
        picture = cv2.GaussianBlur(picture, (0, 0), scene.blur_px)
    factor: Array = cv2.resize(_light(scene), (camera.cols, camera.rows))
    noise, rng = sensor_tile(), np.random.default_rng([scene.seed, 31])
    out = np.empty(picture.shape, np.uint8)
    for start in range(0, camera.rows, _BAND_ROWS):
        band = slice(start, min(start + _BAND_ROWS, camera.rows))
        lit: Array = picture[band] * factor[band]
        grain = np.roll(noise, rng.integers(1024, size=2), axis=(0, 1))[: lit.shape[0]]
        grain = np.tile(grain, (1, -(-camera.cols // 1024), 1))[:, : camera.cols]
        lit = lit + grain * (scene.noise * (0.5 + 0.7 * np.sqrt(np.clip(lit, 0, 1))))
        out[band] = np.clip(lit * 255 + 0.5, 0, 255)
    return out


def _exif(camera: Camera, scene: Scene) -> Image.Exif:
    notes = Image.Exif()
    notes[_ORIENTATION] = scene.orientation
    notes.get_ifd(_EXIF)[_F35] = round(camera.f35_mm)
    if scene.gps:
        # A place in the middle of an ocean.
        notes.get_ifd(_GPS).update({1: "S", 2: (48.0, 52.0, 31.0), 3: "W", 4: (123.0, 23.0, 33.0)})
    return notes


def _jpeg(picture: NDArray[np.uint8], camera: Camera, scene: Scene) -> bytes:
    """Write the picture, turned as the phone was held and as its file says."""
    upright = np.rot90(picture) if scene.portrait else picture
    stored = np.rot90(upright, {1: 0, 3: 2, 6: 1, 8: 3}[scene.orientation])
    out = BytesIO()
    Image.fromarray(np.ascontiguousarray(stored)).save(out, "JPEG", quality=scene.quality, exif=_exif(camera, scene))
    return out.getvalue()


def _upright(row: Array, col: Array, camera: Camera, scene: Scene) -> list[list[float]]:
    """Return points as [col, row] of the upright photo."""
    if scene.portrait:
        row, col = camera.cols - 1 - col, row
    return [[round(float(c), 2), round(float(r), 2)] for r, c in zip(row, col, strict=True)]


def photo_truth(lying: Lying, camera: Camera, scene: Scene) -> Truth:
    """Return what is true of a photo, as `photograph` hands it out."""
    shown = shown_range(lying, camera)
    if shown is None:
        raise ValueError("the board is not in the picture")
    across = lying.solid.across_mm(lying.side)
    along = np.linspace(*shown, 21)
    upper, lower = (lying.pixel(camera, along, np.full(21, up)) for up in (across, 0.0))
    steps = lying.pixel(camera, np.linspace(*shown, 201), np.full(201, across / 2))
    scale = np.hypot(*np.diff(np.stack(steps), axis=1)) / np.diff(np.linspace(*shown, 201)) * 25.4
    points_upper, points_lower = (_upright(row, col, camera, scene) for row, col in (upper, lower))
    return {
        "side": lying.side,
        "board_runs": "up" if scene.portrait else "right",
        "background": scene.ground,
        "shows_mm": [round(value, 1) for value in shown],
        "outline_px": points_upper + points_lower[::-1],
        "corners_px": [points_upper[0], points_upper[-1], points_lower[-1], points_lower[0]],
        "px_per_in": [round(float(scale.min()), 2), round(float(scale.max()), 2)],
        "exif": {"orientation": scene.orientation, "f35": camera.f35_mm},
        "jpeg_quality": scene.quality,
        "blur_px": scene.blur_px,
        "noise": scene.noise,
        "shadow": scene.shadow,
        "glare": scene.marks.shine,
    }


def _neighbours(lying: Lying, scene: Scene) -> list[Lying]:
    """Lay the other boards against this one, the first above it, the second below it, and so on."""
    half = lying.solid.across_mm(lying.side) / 2
    reach = {1: half + scene.gap_mm, -1: half + scene.gap_mm}
    rng, placed = np.random.default_rng([scene.seed, 37]), []
    for index, solid in enumerate(scene.beside):
        way = 1 if index % 2 == 0 else -1
        width = solid.width_mm
        placed.append(Lying(solid, "face_1", float(rng.uniform(-120, 120)), way * (reach[way] + width / 2)))
        reach[way] += width + scene.gap_mm * float(rng.uniform(0.5, 4.0))
    return placed


def photograph(solid: Solid, side: str, camera: Camera, scene: Scene = DAYLIGHT) -> tuple[bytes, Truth]:
    """Photograph one side of a board.

    Returns
    -------
    jpeg
        The file.
    truth
        side, board_runs ("right", or "up" in portrait), shows_mm, outline_px (upper corner from
        the marked end, then lower corner back, [col, row] of the upright photo), corners_px
        (marked upper, far upper, far lower, marked lower), px_per_in [least, most], and how the
        photo was taken.

    Raises
    ------
    ValueError
        The board is not in the picture.
    """
    lying = Lying(solid, side)
    truth = photo_truth(lying, camera, scene)
    others = _neighbours(lying, scene)
    boxes = []
    for board in [lying, *others]:
        half, middle = board.solid.across_mm(board.side) / 2, board.up_mm
        boxes.append((board.along_mm, board.along_mm + board.solid.length_mm, middle - half, middle + half))
    lies = Lies(lying.depth_mm, scene.below_mm, tuple(boxes))
    picture = paint_ground(camera, scene.ground, lies, scene.ground_seed)
    for board in others:
        paint_board(picture, board, camera, PLAIN)
    paint_board(picture, lying, camera, scene.marks)
    return _jpeg(_expose(picture, camera, scene), camera, scene), truth


def photograph_end(solid: Solid, camera: Camera, scene: Scene = DAYLIGHT) -> tuple[bytes, Truth]:
    """Photograph the marked end head on, face 1 up, so that y grows to the left.

    The camera's `along` runs along the width from the left, its `up` along the thickness from the
    middle. The truth holds corners_px (upper left, upper right, lower right, lower left).
    """
    picture = paint_ground(camera, scene.ground, Lies(_BEHIND_MM, 0.0, ()), scene.ground_seed)
    paint_end(picture, solid, camera)
    truth = {
        "corners_px": _upright(*end_corners(solid, camera), camera, scene),
        "exif": {"orientation": scene.orientation, "f35": camera.f35_mm},
    }
    return _jpeg(_expose(picture, camera, scene), camera, scene), truth
