"""Settle which dark places are knots: a branch shows on more than one side of a board, print and dirt do not."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.grain.types import KnotBox, KnotSign
from service.sides import side_opposite

ALONE, ALONE_OF_FEW = 1.5, 0.5
"""Log odds at which a dark place is a knot without a partner: 4 to 1. Where fewer than `MOST_SIDES` were read
there is little to meet, and less must do: missing a knot is the worse mistake."""

MOST_SIDES = 3
"""Sides, read, that show nearly every branch twice."""

TOGETHER = 2.0
"""Log odds at which a dark place with a partner is a knot."""

PARTNER = 5.0
"""What a partner adds to the log odds. Nine of ten branches come out on two sides of drawn boards. A side
shows about half a doubtful place, so that a false one meets another within reach on the three other sides
is about 1 to 100, of which the natural logarithm is 4.6."""

NEIGHBOUR_MM, OPPOSITE_MM = 8.0, 12.0
"""Gap along the board between partners, at most: error of place between two photos, and on opposite sides
besides how far a branch that leans by 30 degrees moves over the thickness of a board."""

MARKED_MM = 60.0
"""So near the marked end tape and crosses are on several sides; no partners are looked for."""


@dataclass(frozen=True)
class _Seen:
    """A dark place and the side it is on."""

    side: str
    sign: KnotSign


def settle_knots(signs: Mapping[str, Sequence[KnotSign]]) -> dict[str, tuple[KnotBox, ...]]:
    """Pick the knots out of the dark places of all sides.

    Parameters
    ----------
    signs
        Side name to the dark places on it that may be knots.

    Returns
    -------
    Side name to its knots, in order along the board, for each side given.

    Examples
    --------
    Two doubtful places that meet are a knot; the same place alone is not.

    >>> face, edge = KnotSign(KnotBox(500, 512, 0, 5), -0.7), KnotSign(KnotBox(501, 513, 12, 20), -0.5)
    >>> settle_knots({"face_1": [face], "edge_1": [edge]})["edge_1"]
    (KnotBox(from_mm=501, to_mm=513, across_from_mm=12, across_to_mm=20),)
    >>> settle_knots({"face_1": [face], "edge_1": []})
    {'face_1': (), 'edge_1': ()}
    """
    own = {side: _without_doubles(places) for side, places in signs.items()}
    seen = [_Seen(side, sign) for side, places in own.items() for sign in places]
    alone = ALONE if len(signs) >= MOST_SIDES else ALONE_OF_FEW
    return {
        side: tuple(sign.box for sign in places if _settled(_Seen(side, sign), seen, alone))
        for side, places in own.items()
    }


def _without_doubles(places: Sequence[KnotSign]) -> list[KnotSign]:
    """Keep the likeliest of places that overlap: photos of parts of a side show the same one twice."""
    kept: list[KnotSign] = []
    for sign in sorted(places, key=lambda sign: -sign.log_odds):
        if all(_gap_mm(sign, other) > 0 or _apart(sign.box, other.box) for other in kept):
            kept.append(sign)
    return sorted(kept, key=lambda sign: sign.box.from_mm)


def _apart(one: KnotBox, other: KnotBox) -> bool:
    return one.across_from_mm > other.across_to_mm or other.across_from_mm > one.across_to_mm


def _gap_mm(one: KnotSign, other: KnotSign) -> float:
    return max(one.box.from_mm, other.box.from_mm) - min(one.box.to_mm, other.box.to_mm)


def _settled(place: _Seen, seen: Sequence[_Seen], alone: float) -> bool:
    if place.sign.log_odds >= alone:
        return True
    if place.sign.box.from_mm < MARKED_MM:
        return False
    partners = [other.sign.log_odds for other in seen if _partners(place, other)]
    return bool(partners) and place.sign.log_odds + min(max(partners), 0.0) + PARTNER >= TOGETHER


def _partners(place: _Seen, other: _Seen) -> bool:
    """Tell whether two places can be the same branch, coming out on two sides."""
    if other.side == place.side:
        return False
    most_mm = OPPOSITE_MM if other.side == side_opposite(place.side) else NEIGHBOUR_MM
    return _gap_mm(place.sign, other.sign) < most_mm
