"""What a bow can be for and how strictly slopes can be taken: choices that set the limits of slope together."""

from dataclasses import dataclass
from typing import Final

from service.language import mark

PRACTICE: Final = mark("common practice, no source")

UNBACKED, USUAL = "unbacked", "usual"


@dataclass(frozen=True)
class Purpose:
    """What a bow is for, and the slopes that go with it: steepest on the back and on the belly, ratios."""

    words: str
    back_slope: float
    belly_slope: float
    reason: str
    source: str


PURPOSES: Final = {
    "unbacked": Purpose(
        mark("A bow with nothing glued to its back"),
        1 / 20,
        1 / 12,
        mark("The bare wood of the back alone has to hold its fibres down."),
        mark("Duff, Bows and Arrows (1927) ch. IV, as with each slope"),
    ),
    "backed": Purpose(
        mark("A bow on whose back cloth, rawhide or wood will be glued"),
        1 / 15,
        1 / 12,
        mark(
            "A backing holds down fibres that would lift, so the back may slope as much as wood for aircraft; the "
            "belly gains nothing by it."
        ),
        mark("common practice, no source; compare 1 in 15 in FAA AC 43.13-1B Table 1-1"),
    ),
    "first_bow": Purpose(
        mark("A first bow, tillered while learning"),
        1 / 25,
        1 / 15,
        mark("Whoever learns to tiller bends some places too far, and straighter wood forgives more of that."),
        PRACTICE,
    ),
}
"""What the bow can be for, by fixed name; the first holds when nothing is chosen."""


@dataclass(frozen=True)
class Tolerance:
    """How strictly the slopes are taken: what both are multiplied by, why, and what to mind."""

    words: str
    factor: float
    reason: str
    caution: str = ""


TOLERANCES: Final = {
    "strict": Tolerance(
        mark("Strict: four fifths of the usual slopes"),
        4 / 5,
        mark("Taken strictly: wood is chosen with room to spare."),
    ),
    "usual": Tolerance(mark("Usual"), 1.0, mark("Taken as usual.")),
    "lenient": Tolerance(
        mark("Lenient: five quarters of the usual slopes"),
        5 / 4,
        mark("Taken leniently: the bow is made longer, wider or weaker than the wood would otherwise bear."),
        mark(
            "The slopes were taken leniently, so this board may be one that is usually left behind. Ask an experienced "
            "bowyer before you bend it, and make the bow longer, wider or weaker to spare it."
        ),
    ),
}
"""How strictly slopes can be taken, by fixed name; the steps are common practice, no source."""

LOOSEST: Final = max(step.factor for step in TOLERANCES.values())
