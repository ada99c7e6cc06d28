"""Where each of a side's photos lies along the board: a small least-squares over joins, ends and scales.

The ends seen and the board's length tie the photos to the board, joins tie them to each other, and perspective with
the known width gives each photo's scale. An end may be seen where there is none (a shadow, a stain, a label), so ends
are believed as far as they agree with each other and with the joins; joins are hardly ever wrong.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.photo.join_match import Match

Floats = NDArray[np.float64]

#: Standard error of an end in view, with the board's stated length, in millimetres.
END_MM: Final = 1.5
#: How well the width and perspective of one photo tell its scale along (standard deviation): 0.35 % where the outline
#: is right, on drawn photos; more where it follows a shadow for a while.
SCALE_SPREAD: Final = 0.006
#: How far all scales of a side may be off together: one phone took the photos, with one lens.
COMMON_SCALE: Final = 0.004
#: Two ends agree when they put the photos this near to each other, and more for photos far apart: a photo's scale may
#: be off by some percent where an outline follows a shadow. Ends that are none are off by hundreds of millimetres.
AGREE_MM: Final = 12.0
AGREE_SHARE: Final = 0.035
#: What an end counts besides when it is seen where the given order has it: it decides only between equals.
IN_ORDER: Final = 0.1
#: What each joined photo counts besides: photos that join show wood, while a lone one may show a wrong outline.
JOINED: Final = 0.02
#: So far beyond an end of the board no photo shows it.
BEYOND_MM: Final = 25.0


@dataclass(frozen=True)
class Piece:
    """One photo's strip as far as its place matters.

    Attributes
    ----------
    length_mm
        Length of the strip, by its own scale.
    marked_end, far_end
        Whether the left border seems to be the board's marked end, the right one its far end.
    """

    length_mm: float
    marked_end: bool
    far_end: bool


@dataclass(frozen=True)
class Join:
    """A match between two pieces, named by their numbers."""

    one: int
    other: int
    match: Match


@dataclass(frozen=True)
class Place:
    """Where a piece lies.

    Attributes
    ----------
    from_mm
        Position of its left border from the marked end.
    scale
        Factor on its own lengths.
    error_mm, scale_error
        Standard errors of the place (the larger of its two borders) and of the scale.
    """

    from_mm: float
    scale: float
    error_mm: float
    scale_error: float

    def at(self, own_mm: float) -> float:
        """Position of a point given from the piece's own left border.

        >>> Place(100.0, 1.01, 0.5, 0.001).at(200.0)
        302.0
        """
        return self.from_mm + self.scale * own_mm


def groups(count: int, joins: Iterable[Join]) -> list[list[int]]:
    """Gather pieces that hang together by joins, each group in order.

    >>> nothing = Match(np.zeros(2), np.zeros(2), 1.0, 9.0, 2.0)
    >>> groups(4, [Join(0, 2, nothing)])
    [[0, 2], [1], [3]]
    """
    of = list(range(count))
    for join in joins:
        old, new = sorted((of[join.one], of[join.other]), reverse=True)
        of = [new if group == old else group for group in of]
    return [[piece for piece in range(count) if of[piece] == group] for group in sorted(set(of))]


@dataclass(frozen=True)
class Settled:
    """Places of a group, and how much speaks for them: the ends that agree, mostly."""

    places: dict[int, Place]
    support: float


def settle(group: Sequence[int], pieces: Sequence[Piece], joins: Sequence[Join], length_mm: float) -> Settled | None:
    """Place a group of pieces along the board.

    Parameters
    ----------
    group
        Numbers of pieces that hang together by joins.
    pieces, joins
        All pieces, in the order given, and the joins among those of the group.
    length_mm
        The board's length.

    Returns
    -------
    Settled or None
        A place for each piece; None when no end in view ties the group to the board, or the ends contradict each
        other.
    """
    loose = _solve(group, pieces, joins, [], length_mm)
    ends, support = _believed(loose, pieces, length_mm)
    return Settled(_solve(group, pieces, joins, ends, length_mm), support + JOINED * len(group)) if ends else None


def end_to_end_mm(
    group: Sequence[int], pieces: Sequence[Piece], joins: Sequence[Join], length_mm: float
) -> float | None:
    """How long a board would be whose two ends are those a joined group shows; None when it does not show both once.

    Parameters
    ----------
    group, pieces, joins, length_mm
        As for `settle`, which makes use of the ends only where they fit the length.
    """
    marked = [piece for piece in group if pieces[piece].marked_end]
    far = [piece for piece in group if pieces[piece].far_end]
    if len(marked) != 1 or len(far) != 1 or marked == far:
        return None
    loose = _solve(group, pieces, joins, [], length_mm)
    return loose[far[0]].at(pieces[far[0]].length_mm) - loose[marked[0]].from_mm


def _believed(
    loose: dict[int, Place], pieces: Sequence[Piece], length_mm: float
) -> tuple[list[tuple[int, bool]], float]:
    """Choose the ends that agree with each other: (piece, whether it is the far end), and what they count.

    Each end says where the whole group lies. The most that agree are believed, if they leave every piece on the board.
    """
    claims = [(piece, False) for piece in loose if pieces[piece].marked_end]
    claims += [(piece, True) for piece in loose if pieces[piece].far_end]
    seen = {claim: loose[claim[0]].at(pieces[claim[0]].length_mm if claim[1] else 0.0) for claim in claims}
    moves = {claim: (length_mm if claim[1] else 0.0) - at for claim, at in seen.items()}
    first = min(place.from_mm for place in loose.values())
    last = max(place.at(pieces[piece].length_mm) for piece, place in loose.items())
    slack = BEYOND_MM + AGREE_SHARE * (last - first)
    best: list[list[tuple[int, bool]]] = [[]]
    support = 0.0
    for claim in claims:
        if first + moves[claim] < -slack or last + moves[claim] > length_mm + slack:
            continue
        agreeing = [
            other
            for other in claims
            if abs(moves[other] - moves[claim]) < AGREE_MM + AGREE_SHARE * abs(seen[other] - seen[claim])
        ]
        count = len(agreeing) + IN_ORDER * sum(piece == (len(pieces) - 1 if far else 0) for piece, far in agreeing)
        if count > support:
            best, support = [agreeing], count
        elif count == support and agreeing not in best:
            best.append(agreeing)
    return (best[0], support) if len(best) == 1 else ([], 0.0)


def _solve(
    group: Sequence[int],
    pieces: Sequence[Piece],
    joins: Sequence[Join],
    ends: Sequence[tuple[int, bool]],
    length_mm: float,
) -> dict[int, Place]:
    """Solve for place and scale of each piece; without ends the first piece begins at 0."""
    matrix, wanted = _statements(group, pieces, joins, ends or [(group[0], False)], length_mm)
    spread = np.linalg.inv(matrix.T @ matrix)
    found = spread @ (matrix.T @ wanted)
    misses = matrix @ found - wanted
    # What does not fit together was worse than thought.
    spread *= max(1.0, float(misses @ misses) / max(len(wanted) - len(found), 1))
    places = {}
    for number, piece in enumerate(group):
        own = spread[2 * number : 2 * number + 2, 2 * number : 2 * number + 2]
        borders = [np.array([1.0, own_mm]) for own_mm in (0.0, pieces[piece].length_mm)]
        error_mm = max(float(np.sqrt(border @ own @ border)) for border in borders)
        from_mm, scale = float(found[2 * number]), 1 + float(found[2 * number + 1])
        places[piece] = Place(from_mm, scale, error_mm, float(np.sqrt(own[1, 1])))
    return places


def _statements(
    group: Sequence[int],
    pieces: Sequence[Piece],
    joins: Sequence[Join],
    ends: Sequence[tuple[int, bool]],
    length_mm: float,
) -> tuple[Floats, Floats]:
    """Write down all that is known as a matrix and what it should give, each row over its own standard error.

    Unknowns are, piece by piece, the place of the left border and the scale's difference from 1, and at last the mean
    difference of all scales.
    """
    column, unknowns = {piece: 2 * number for number, piece in enumerate(group)}, 2 * len(group) + 1
    rows: list[Floats] = []
    wanted: list[float] = []

    def tell(parts: Sequence[tuple[int, float, float]], value: float, error: float) -> None:
        """Add: the sum of sign * (place + scale * own) over the parts is the value, give or take the error."""
        row, known = np.zeros(unknowns), 0.0
        for piece, sign, own_mm in parts:
            row[column[piece]] += sign
            row[column[piece] + 1] += sign * own_mm
            known += sign * own_mm
        rows.append(row / error)
        wanted.append((value - known) / error)

    for join in joins:
        if join.one in column and join.other in column:
            for one_mm, other_mm in zip(join.match.one_mm, join.match.other_mm, strict=True):
                # Two pairs of one overlap share their errors.
                error = join.match.error_mm * 2**0.5
                tell([(join.one, 1.0, float(one_mm)), (join.other, -1.0, float(other_mm))], 0.0, error)
    for piece, far in ends:
        tell([(piece, 1.0, pieces[piece].length_mm if far else 0.0)], length_mm if far else 0.0, END_MM)
    scales = np.zeros((len(group) + 1, unknowns))
    scales[np.arange(len(group)), 1 + 2 * np.arange(len(group))] = 1 / SCALE_SPREAD
    scales[:-1, -1], scales[-1, -1] = -1 / SCALE_SPREAD, 1 / COMMON_SCALE
    return np.vstack([*rows, scales]), np.append(wanted, np.zeros(len(scales)))
