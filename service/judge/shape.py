"""The bow as it is cut: how wide it is along its length, where handle, fades, taper and tips lie."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.errors import BadInput
from service.language import say

Float = NDArray[np.float64]

USUAL_WIDTH_MM: Final = 38.1
"""Widest part of a limb, 1-1/2 in. C. Stemmler's flat bow of 1942 (archerylibrary.com)."""

TAPER_MM: Final = 457.2
"""From here to the tip a limb narrows, 18 in. The same."""

TIP_MM: Final = 12.7
"""Width at the tip, 1/2 in. The same."""

HANDLE_MM: Final = 101.6
"""Length of the handle, 4 in. Common practice, no source."""

FADE_MM: Final = 50.8
"""Length of each fade, 2 in, in which the handle's depth dies out. Common practice, no source."""


@dataclass(frozen=True)
class BowShape:
    """A bow seen from its back: widest from the handle outward, narrowing to the tips.

    Attributes
    ----------
    length_mm
        From tip to tip along the section.
    width_mm
        At the widest; handle and fades count as just as wide, for their shape is the maker's choice.

    Raises
    ------
    BadInput
        When a measure is not above zero.
    """

    length_mm: float
    width_mm: float
    handle_mm: float = HANDLE_MM
    fade_mm: float = FADE_MM
    taper_mm: float = TAPER_MM
    tip_mm: float = TIP_MM

    def __post_init__(self) -> None:
        if not (np.isfinite(self.length_mm) and self.length_mm > 0):
            raise BadInput(
                say("The bow length cannot be {length} mm; give a length above zero.", length=self.length_mm),
                "bow_length",
            )
        if not (np.isfinite(self.width_mm) and self.width_mm > 0):
            raise BadInput(
                say("The bow width cannot be {length} mm; give a width above zero.", length=self.width_mm), "bow_width"
            )

    @property
    def limb_mm(self) -> float:
        """Length of a limb that bends: from the end of a fade to the tip."""
        return max(0.5 * (self.length_mm - self.handle_mm) - self.fade_mm, 0.1 * self.length_mm)

    def width_at(self, along_mm: Float) -> Float:
        """Return the bow's width.

        Parameters
        ----------
        along_mm
            Any shape: distance from the bow's end that lies nearer the marked end, 0 to `length_mm`.

        >>> BowShape(1727.2, 38.1).width_at(np.array([0.0, 228.6, 457.2, 863.6])).round(1).tolist()
        [12.7, 25.4, 38.1, 38.1]
        """
        taper_mm = min(self.taper_mm, self.limb_mm)
        tip_mm = min(self.tip_mm, self.width_mm)
        to_tip_mm = np.minimum(along_mm, self.length_mm - along_mm)
        width: Float = tip_mm + (self.width_mm - tip_mm) * np.clip(to_tip_mm / taper_mm, 0.0, 1.0)
        return width
