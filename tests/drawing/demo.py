"""The four boards of the demo: made up, as are their names, their workshop and all that is said of them."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from service.sides import SIDES
from tests.drawing.camera import Camera, over_part, over_whole
from tests.drawing.limits_truth import limits_truth
from tests.drawing.looks import DARK, OPEN, PALE, TAN
from tests.drawing.marks import Marks
from tests.drawing.photo import Scene, photograph, photograph_end
from tests.drawing.solid import Knot, Solid
from tests.drawing.truth import truth_of

Truth = dict[str, Any]
_INCH: Final = 25.4


@dataclass(frozen=True)
class Demo:
    """A demo board: what is told about it, and how it is photographed."""

    folder: str
    name: str
    story: str
    nominal: str
    bow_length_mm: float
    solid: Solid
    scene: Scene
    closeup_at_mm: float = 900.0
    closeups: tuple[str, ...] = ("face_1", "edge_1")


_BAD_END: Final = Demo(
    "clear_till_evening",
    "Clear Till Evening",
    "The loft names its boards after the weather they came in with. This one is quiet for six feet and a half; "
    "then the tree leaned, and the last twenty inches run straight out over the edge.",
    "1x2",
    68 * _INCH,
    Solid(
        101, 96 * _INCH, 38.1, 19.05, (30.0, -210.0),
        ((0.0, 0.012), (500.0, 0.006), (1000.0, 0.012), (1500.0, 0.008), (1900.0, 0.012), (2010.0, 0.15),
         (2438.4, 0.16)),
        ((0.0, -0.010), (1200.0, -0.006), (2438.4, -0.011)),
        crook_mm=1.4, bow_mm=-1.1, look=PALE,
    ),
    Scene(201, 201, "floor", marks=Marks(0.008, cross=True), uneven=0.12),
)  # fmt: skip

_TWO_FACED: Final = Demo(
    "sun_and_rain",
    "Sun and Rain",
    "Six feet of tan wood with interlocked grain: what lies just under one face turns, the other face hardly does. "
    "Either face looks as good as the other until the fibre is read.",
    "1x2",
    66 * _INCH,
    Solid(
        102, 72 * _INCH, 38.1, 19.05, (17.0, -140.0),
        ((0.0, 0.008), (900.0, 0.004), (1828.8, 0.009)),
        ((0.0, 0.029), (900.0, 0.031), (1828.8, 0.029)),
        crook_mm=-1.0, bow_mm=0.8, look=TAN, spiral_per_mm=-0.075,
    ),
    Scene(202, 202, "tiles", marks=Marks(0.008, tape=True), uneven=0.10, portrait=True, orientation=6),
    700.0,
    ("face_1", "edge_1", "face_2"),
)  # fmt: skip

_KNOTTY: Final = Demo(
    "hailstone",
    "Hailstone",
    "An open-pored board, straight as a ruler from end to end, with one branch through the middle of it. "
    "Four feet to either side are lovely; a whole bow is in neither.",
    "1x3",
    68 * _INCH,
    Solid(
        103, 96 * _INCH, 63.5, 19.05, (40.0, -260.0),
        ((0.0, 0.008), (1200.0, 0.012), (2438.4, 0.007)),
        ((0.0, 0.008), (1200.0, 0.005), (2438.4, 0.010)),
        (Knot(1236.0, 27.0, 9.5, (-0.05, 0.9987), 8.5),),
        crook_mm=1.6, bow_mm=1.2, look=OPEN,
    ),
    Scene(203, 203, "carpet", marks=Marks(0.008, tape=True, sticker=True), uneven=0.12, shadow=True),
)  # fmt: skip

_SPIRAL: Final = Demo(
    "side_wind",
    "Side Wind",
    "Dark wood whose ring lines run along the edges as if drawn with a rule. The tree had turned as it grew, though, "
    "and the pores on its faces leave them in little more than a foot.",
    "1x2",
    68 * _INCH,
    Solid(
        104, 96 * _INCH, 38.1, 19.05, (12.0, -230.0),
        ((0.0, 0.006), (1200.0, 0.003), (2438.4, 0.007)),
        ((0.0, 0.112), (1200.0, 0.118), (2438.4, 0.113)),
        crook_mm=-1.2, bow_mm=1.5, look=DARK,
    ),
    Scene(204, 204, "plywood", marks=Marks(0.008, cross=True), uneven=0.12),
)  # fmt: skip

DEMOS: Final = (_BAD_END, _TWO_FACED, _KNOTTY, _SPIRAL)


def demo_truth(demo: Demo) -> Truth:
    """Return all that stands in a demo board's truth.json, but for what is true of its photos.

    `expected` holds the right verdict, the back (null when none or when either will do) and the
    first and last start of a passing section (null when there is none).
    """
    answer = limits_truth(demo.solid, demo.bow_length_mm)
    shares = sorted((answer["back_shares"] or {"face_1": 1.0, "face_2": 1.0}).values())
    matters = answer["answer"] == "pass" and shares[1] > 1.2 * shares[0]
    expected = {"verdict": answer["answer"], "back": answer["back"] if matters else None}
    expected["section_start_mm"] = answer["starts_mm"]
    told = {
        "name": demo.name,
        "story": demo.story,
        "nominal": demo.nominal,
        "bow_length_mm": round(demo.bow_length_mm, 1),
    }
    return {**told, "expected": expected, "limits_truth": answer, **truth_of(demo.solid)}


def _whole(demo: Demo, index: int) -> Camera:
    """Hang the phone a little differently over each side."""
    return over_whole(
        demo.solid.length_mm,
        0.93,
        tilt_along_deg=(1.2, -0.8, 0.6, -1.4)[index],
        tilt_up_deg=(0.9, 1.3, -1.1, -0.7)[index],
        roll_deg=(0.5, -0.4, 0.3, 0.7)[index],
        bowing=0.004,
    )


def _near(demo: Demo, offset: int, quality: int) -> Scene:
    """Return the scene of a photo taken close by."""
    changes: dict[str, Any] = {
        "marks": Marks(0.008),
        "shadow": False,
        "portrait": False,
        "orientation": 1,
        "noise": 0.005,
    }
    return replace(demo.scene, **changes, seed=demo.scene.seed + offset, quality=quality)


def end_photo(demo: Demo) -> tuple[bytes, Truth]:
    """Photograph a demo board's marked end."""
    width = demo.solid.width_mm
    camera = over_part(width / 2, 6.0 * width, tilt_up_deg=0.8, roll_deg=-0.7)
    return photograph_end(demo.solid, camera, _near(demo, 9, 78))


def demo_photos(demo: Demo) -> Iterator[tuple[str, bytes, Truth]]:
    """Take a demo board's photos: name, file, truth of the photo."""
    for index, side in enumerate(SIDES):
        scene = replace(demo.scene, seed=demo.scene.seed + 10 * index, noise=0.0045, quality=82)
        yield f"{side}.jpg", *photograph(demo.solid, side, _whole(demo, index), scene)
    for index, side in enumerate(demo.closeups):
        at = demo.closeup_at_mm + 120.0 * index
        camera = over_part(at, 210.0, tilt_up_deg=1.0, tilt_along_deg=-0.8, roll_deg=0.6)
        yield f"{side}_close.jpg", *photograph(demo.solid, side, camera, _near(demo, 5 + index, 80))
    yield "end.jpg", *end_photo(demo)


def truth_text(truth: Truth) -> str:
    """Return a truth as JSON, one line for each of its parts."""
    lines = (f"{json.dumps(key)}: {json.dumps(value)}" for key, value in truth.items())
    return "{\n" + ",\n".join(lines) + "\n}\n"


def write_demo(demo: Demo, folder: Path) -> int:
    """Write a demo board's photos and truth into a folder; return the bytes written."""
    folder.mkdir(parents=True, exist_ok=True)
    truth, written = {**demo_truth(demo), "photos": []}, 0
    for name, jpeg, seen in demo_photos(demo):
        (folder / name).write_bytes(jpeg)
        truth["photos"].append({"file": name, **seen})
        written += len(jpeg)
    return written + (folder / "truth.json").write_text(truth_text(truth))
