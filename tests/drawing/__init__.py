"""A renderer of made-up boards: wood as a solid, seen by a phone camera, with its truth beside it."""

from tests.drawing.camera import Camera, over_part, over_parts, over_whole
from tests.drawing.chance import random_camera, random_parts, random_scene, random_solid
from tests.drawing.looks import LOOKS, Look
from tests.drawing.marks import Marks
from tests.drawing.photo import Scene, photograph, photograph_end
from tests.drawing.solid import Knot, Solid
from tests.drawing.texture import side_texture
from tests.drawing.truth import truth_of

__all__ = [
    "LOOKS",
    "Camera",
    "Knot",
    "Look",
    "Marks",
    "Scene",
    "Solid",
    "over_part",
    "over_parts",
    "over_whole",
    "photograph",
    "photograph_end",
    "random_camera",
    "random_parts",
    "random_scene",
    "random_solid",
    "side_texture",
    "truth_of",
]
