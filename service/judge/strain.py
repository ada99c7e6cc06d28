"""Where a bow works: how hard the wood's surface is strained along it, as a share of the hardest place.

The string pulls at the tips, so the bending moment grows evenly from each tip to the middle. A limb of width w
and depth t bent by a moment M is strained at its surface by 6 M / (E w t^2); E is the same all along a board.
The limbs count as evenly deep. A real limb is mostly thinned toward its tips, which gives the outer limb more
of the work than told here.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.judge.shape import BowShape

Float = NDArray[np.float64]

HANDLE_DEPTH: Final = 2.4
"""Depth of the handle over that of the limb, 1-1/2 in over 5/8 in. C. Stemmler's flat bow of 1942
(archerylibrary.com)."""

HARD_SHARE: Final = 0.5
"""From this share of the peak strain on the wood works hard: the inner and middle limbs. Below it even a slope
of 1 in 8, which leaves about half the strength in tension by most sources (ANC-18 (1944) Table 2-4 goes no steeper),
asks no more of the wood than the peak asks of straight grain. That grain near the tips matters less is common
practice, no source."""

PLACES: Final = 2001
"""Places looked at for the peak from tip to middle, less than half a millimetre apart."""


def moment_share(shape: BowShape, along_mm: Float) -> Float:
    """Return the bending moment of the string's pull as a share of that in the bow's middle.

    M(x) = F x,  x the distance from the nearer tip

    Parameters
    ----------
    along_mm
        Any shape: distance from the bow's end that lies nearer the marked end, 0 to `length_mm`.

    References
    ----------
    Elementary cantilever (textbook, from memory): the string's angle and the bend of the limb are left out.

    >>> moment_share(BowShape(1600.0, 40.0), np.array([0.0, 400.0, 800.0, 1400.0])).tolist()
    [0.0, 0.5, 1.0, 0.25]
    """
    share: Float = _to_tip_mm(shape, along_mm) / (0.5 * shape.length_mm)
    return share


def depth_share(shape: BowShape, along_mm: Float) -> Float:
    """Return the bow's depth as a multiple of the limb's: 1 along the limb, growing through the fade to the handle's.

    Parameters
    ----------
    along_mm
        As in `moment_share`.

    The limb of a 66 in bow is 29 in long, its fade 2 in.

    >>> depth_share(BowShape(1676.4, 38.1), np.array([0.0, 736.6, 762.0, 787.4, 838.2])).round(6).tolist()
    [1.0, 1.0, 1.7, 2.4, 2.4]
    """
    into_mm = _to_tip_mm(shape, along_mm) - shape.limb_mm
    # Without a fade the handle steps up at once.
    risen = np.clip(into_mm / max(shape.fade_mm, 1e-6 * shape.length_mm), 0.0, 1.0)
    depth: Float = 1.0 + (HANDLE_DEPTH - 1.0) * risen
    return depth


def strain_share(shape: BowShape, along_mm: Float) -> Float:
    """Return the strain of the bow's surface as a share of its peak along the bow.

    strain = 6 M / (E w t^2)

    Parameters
    ----------
    along_mm
        As in `moment_share`.

    Returns
    -------
    ndarray
        Of `along_mm`'s shape, 0 to 1.

    References
    ----------
    Bending of beams (textbook, from memory); strain and depth: F. Nagler, "Cast", in Archery: the Technical Side
    (1947).

    The peak of a 66 in flat bow lies where the limb meets the fade, 29 in from the tip. Where the taper begins, 18 in
    from the tip, it is as wide but has 18/29 of the moment; in the middle 33/29 of it, but 2.4 times the depth.

    >>> strain_share(BowShape(1676.4, 38.1), np.array([0.0, 457.2, 736.6, 838.2])).round(4).tolist()
    [0.0, 0.6207, 1.0, 0.1976]
    """
    # Both halves are alike, so the peak of one is the bow's.
    half_mm = np.append(np.linspace(0.0, 0.5 * shape.length_mm, PLACES), shape.limb_mm)
    share: Float = np.minimum(_strain(shape, along_mm) / _strain(shape, half_mm).max(), 1.0)
    return share


def works_hard(shape: BowShape, along_mm: Float) -> NDArray[np.bool_]:
    """Tell where the wood works hard: the inner and middle limbs, by `HARD_SHARE`.

    Parameters
    ----------
    along_mm
        As in `moment_share`.

    A 66 in flat bow works hard from 11 in of its tip on, and not in its handle.

    >>> works_hard(BowShape(1676.4, 38.1), np.array([254.0, 279.4, 736.6, 838.2])).tolist()
    [False, True, True, False]
    """
    hard: NDArray[np.bool_] = strain_share(shape, along_mm) >= HARD_SHARE
    return hard


def _to_tip_mm(shape: BowShape, along_mm: Float) -> Float:
    """Return the distance from the nearer tip; nothing beyond the tips."""
    to_tip: Float = np.maximum(np.minimum(along_mm, shape.length_mm - along_mm), 0.0)
    return to_tip


def _strain(shape: BowShape, along_mm: Float) -> Float:
    """Return the strain in units of its own."""
    # A tip that runs out to a point has neither moment nor width: what it tends to is told.
    to_tip_mm = np.maximum(_to_tip_mm(shape, along_mm), 1e-9 * shape.length_mm)
    strain: Float = to_tip_mm / (shape.width_at(to_tip_mm) * depth_share(shape, along_mm) ** 2)
    return strain
