"""Settle which dark places are knots: a branch shows on more than one side of a board, print and dirt do not."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.grain.types import KnotBox, KnotSign
from service.sides import BoardSize, side_above, side_below, side_opposite

ALONE = 1.0
"""Log odds at which a dark place is a knot without a partner: about 3 to 1. Missing a knot is the worse
mistake, but a false one in each board would make the answer worthless."""

PARTNER = 4.0
"""What a partner adds to the log odds. A side shows about one doubtful place; that a false one meets
another within a hand's breadth on the right spot has odds of about 1 to 100 (natural logarithm 4.6)."""

CORNER_MM = 4.0
"""A knot cut by a long corner comes so near it on both sides; outlines are good to 1 or 2 mm."""

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


def settle_knots(signs: Mapping[str, Sequence[KnotSign]], size: BoardSize) -> dict[str, tuple[KnotBox, ...]]:
    """Pick the knots out of the dark places of all sides.

    Parameters
    ----------
    signs
        Side name to the dark places on it that may be knots.
    size
        The board.

    Returns
    -------
    Side name to its knots, in order along the board, for each side given.

    Examples
    --------
    Two doubtful places that meet at a corner are a knot; the same place alone is not.

    >>> size = BoardSize(2000.0, 40.0, 20.0)
    >>> face, edge = KnotSign(KnotBox(500, 512, 0, 5), -0.5), KnotSign(KnotBox(501, 513, 12, 20), -0.5)
    >>> settle_knots({"face_1": [face], "edge_1": [edge]}, size)["edge_1"]
    (KnotBox(from_mm=501, to_mm=513, across_from_mm=12, across_to_mm=20),)
    >>> settle_knots({"face_1": [face], "edge_1": []}, size)
    {'face_1': (), 'edge_1': ()}
    """
    own = {side: _without_doubles(places) for side, places in signs.items()}
    seen = [_Seen(side, sign) for side, places in own.items() for sign in places]
    return {
        side: tuple(sign.box for sign in places if _settled(_Seen(side, sign), seen, size))
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


def _settled(place: _Seen, seen: Sequence[_Seen], size: BoardSize) -> bool:
    if place.sign.log_odds >= ALONE:
        return True
    if place.sign.box.from_mm < MARKED_MM:
        return False
    partners = [other.sign.log_odds for other in seen if _partners(place, other, size)]
    return bool(partners) and place.sign.log_odds + min(max(partners), 0.0) + PARTNER >= ALONE


def _partners(place: _Seen, other: _Seen, size: BoardSize) -> bool:
    """Tell whether two places can be the same branch."""
    gap_mm = _gap_mm(place.sign, other.sign)
    if other.side == side_opposite(place.side):
        return gap_mm < OPPOSITE_MM
    if other.side == side_above(place.side):
        upper, lower = place, other
    elif other.side == side_below(place.side):
        upper, lower = other, place
    else:
        return False
    # `upper` reaches its side's upper corner, `lower` its side's lower corner: the same one.
    reaches_up = upper.sign.box.across_to_mm > size.across_mm(upper.side) - CORNER_MM
    return gap_mm < NEIGHBOUR_MM and reaches_up and lower.sign.box.across_from_mm < CORNER_MM
