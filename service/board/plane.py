"""How the two parts of the fibre's slope show on each side: signs and projections."""

from typing import Final

from service.sides import FACES

UPWARD: Final = {"face_1": 1.0, "edge_1": 1.0, "face_2": -1.0, "edge_2": -1.0}
"""+1 where up in the side's photo is +y (faces) or +z (edges), -1 on the opposite side."""

CUTS_WELL = 0.35
"""A side whose in-plane part of the ring normal is smaller shows V shapes, not ring lines."""

LEAST_TURN = 0.05
"""A side on which s shows by less than this share of itself tells nothing of it."""

DIAGONAL_SPREAD = 0.005
"""One sigma by which diagonal grain at one place, such as a close-up's, differs from the board's mean."""


def in_plane(normal_yz: tuple[float, float], side: str) -> tuple[float, float]:
    """Return how d and s show on a side: slope in +y or +z = d * first + s * second.

    Examples
    --------
    Flat-sawn (normal out of the face): the face shows the spiral, the edge the diagonal.

    >>> in_plane((0.0, 1.0), "face_1"), in_plane((0.0, 1.0), "edge_1")
    ((0.0, -1.0), (1.0, 0.0))
    """
    n_y, n_z = normal_yz
    return (n_y, -n_z) if side in FACES else (n_z, n_y)
