"""Several photos of one side put together along the board."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product
from typing import Final

import cv2
import numpy as np

from service.errors import Problem
from service.language import say
from service.lengths import both_units
from service.photo.join_match import alike, match
from service.photo.join_places import Join, Piece, Place, end_to_end_mm, groups, settle
from service.photo.join_texture import Texture, texture_of
from service.photo.types import Strip

#: Photos that were placed by their ends alone show other wood where their lines are less alike than this (see
#: `alike`), with this slack in millimetres.
LEAST_ALIKE: Final = 0.55
SLACK_MM: Final = 30.0
#: Photos whose stretches differ by less than this share show the same.
SAME_STRETCH: Final = 0.12
#: Places that differ by less than this may come in any order.
NEAR_MM: Final = 40.0
#: A stretch longer than this that no photo shows is a gap.
GAP_MM: Final = 20.0
#: Codes of what is said of a photo that adds nothing, of one that does not belong, and of ends at a wrong distance.
REPEATED: Final = "repeated"
OTHER_WOOD: Final = "other_wood"
OTHER_LENGTH: Final = "other_length"
#: Half the width of the 95 % interval in standard errors.
SURE: Final = 1.96


@dataclass(frozen=True)
class Part:
    """One photo of a side, straightened by its width alone.

    Attributes
    ----------
    name, digest
        What the user calls the file, and the hash of its bytes.
    strip
        The side as seen, counted from its own left border.
    marked_end, far_end
        Whether the strip's left border seems to be the board's marked end, its right border the far end.
    """

    name: str
    digest: str
    strip: Strip
    marked_end: bool
    far_end: bool


@dataclass(frozen=True)
class Joined:
    """All photos of a side on the board.

    Attributes
    ----------
    strips
        For each part its strip with its place along the board, None when it was left out.
    problems
        For each part what was noticed about it.
    order
        Numbers of the parts as they lie from the marked end, when that is another order than the given one; else ().
    gaps_mm
        Stretches that no photo shows.
    """

    strips: tuple[Strip | None, ...]
    problems: tuple[tuple[Problem, ...], ...]
    order: tuple[int, ...]
    gaps_mm: tuple[tuple[float, float], ...]


def join(parts: Sequence[Part], length_mm: float) -> Joined:
    """Put several photos of one side together.

    Neighbours are joined by the wood they both show, the ends seen tie them to the board. The order in which the
    photos were given decides only where seeming ends contradict each other.

    Parameters
    ----------
    parts
        The photos of one side.
    length_mm
        The board's length.

    Returns
    -------
    Joined
    """
    work = _Work(list(parts), length_mm)
    work.leave_out_repeats()
    work.find_joins()
    work.turn_round()
    work.place()
    work.compare()
    return work.joined()


class _Work:
    """What is known so far while photos are put together, by number of the part."""

    def __init__(self, parts: list[Part], length_mm: float) -> None:
        self.parts, self.length_mm = parts, length_mm
        self.problems: list[list[Problem]] = [[] for _ in parts]
        self.kept = list(range(len(parts)))
        self.textures: dict[int, Texture] = {}
        self.joins: list[Join] = []
        self.places: dict[int, Place] = {}
        self.support: dict[int, float] = {}

    def tell(self, number: int, code: str, text: str) -> None:
        """Note something about a photo."""
        self.problems[number].append(Problem(code, text))

    def leave_out_repeats(self) -> None:
        """Keep one of photos given twice."""
        first: dict[str, int] = {}
        for number, part in enumerate(self.parts):
            if part.digest in first:
                self.kept.remove(number)
                earlier = self.parts[first[part.digest]].name
                text = say("{photo} is the same photo as {other}; it was used once.", photo=part.name, other=earlier)
                self.tell(number, REPEATED, text)
            first.setdefault(part.digest, number)

    def find_joins(self) -> None:
        """Lay every two photos over each other, in an order that does not depend on the given one."""
        self.textures = {number: texture_of(self.parts[number].strip) for number in self.kept}
        for one, other in combinations(sorted(self.kept, key=lambda number: self.parts[number].digest), 2):
            found = match(self.textures[one], self.textures[other])
            if found is not None:
                self.joins.append(Join(one, other, found))

    def groups(self) -> list[list[int]]:
        """Photos that hang together by joins, the largest group first."""
        found = groups(len(self.parts), self.joins)
        return sorted((group for group in found if group[0] in self.kept), key=lambda group: -len(group))

    def turn_round(self) -> None:
        """Turn photos by half a turn that only so join the others."""
        main, *rest = self.groups()
        for number in (group[0] for group in rest if len(group) == 1):
            turned = _half_turn(self.parts[number])
            texture = texture_of(turned.strip)
            found = [Join(other, number, got) for other in main if (got := match(self.textures[other], texture))]
            if found:
                self.parts[number], self.textures[number] = turned, texture
                self.joins += found
                text = say("{photo} shows the board turned end for end; it was turned back.", photo=turned.name)
                self.tell(number, "turned_end_for_end", text)

    def place(self) -> None:
        """Place every group that an end ties to the board."""
        pieces = [
            Piece((part.strip.image.shape[1] - 1) * part.strip.mm_per_px, part.marked_end, part.far_end)
            for part in self.parts
        ]
        for group in self.groups():
            settled = settle(group, pieces, self.joins, self.length_mm)
            if settled is not None:
                self.places |= settled.places
                self.support |= dict.fromkeys(group, settled.support)
                continue
            shown_mm = end_to_end_mm(group, pieces, self.joins, self.length_mm)
            if shown_mm is not None and shown_mm > 0:
                for number in group:
                    self.tell(number, OTHER_LENGTH, _other_length(shown_mm, self.length_mm))

    def compare(self) -> None:
        """Leave out photos that show other wood than those they should overlap, and say so."""
        placed = [group for group in self.groups() if group[0] in self.places]
        placed.sort(key=lambda group: -self.support[group[0]])
        for group, other in combinations(placed, 2):
            if group[0] not in self.places or other[0] not in self.places:
                continue
            clash = self._clash(group, other)
            if clash is not None:
                self._lose(other, clash[0])
                # Two that contradict each other with nothing to judge between them: neither can be trusted.
                if self.support[group[0]] == self.support[other[0]]:
                    self._lose(group, clash[1])

    def _lose(self, group: list[int], against: int) -> None:
        """Leave out a group that shows other wood than a photo it should overlap."""
        for number in group:
            del self.places[number]
            text = say(
                "{photo} does not show the same wood as {other} where they should overlap, so it was left out. Is one "
                "of them of another board or another side? If not, take it again, or set its corners by hand.",
                photo=self.parts[number].name,
                other=self.parts[against].name,
            )
            self.tell(number, OTHER_WOOD, text)

    def _clash(self, group: list[int], other: list[int]) -> tuple[int, int] | None:
        """Find a photo of each group that should show the same wood and do not."""
        for one, two in product(group, other):
            at, there = self.places[one], self.places[two]
            shift = (there.from_mm - at.from_mm) / at.scale
            likeness = alike(self.textures[one], self.textures[two], shift, SLACK_MM)
            if likeness is not None and likeness < LEAST_ALIKE:
                return one, two
        return None

    def joined(self) -> Joined:
        """Cut everything to its place, and say what is not as it should be."""
        strips: list[Strip | None] = [None] * len(self.parts)
        for number, place in self.places.items():
            strips[number] = _placed(self.parts[number].strip, place)
        stretches = {number: (strip.from_mm, strip.to_mm) for number, strip in enumerate(strips) if strip is not None}
        gaps = _gaps(list(stretches.values()), self.length_mm)
        for number in self.kept:
            if number not in stretches and not self.problems[number]:
                self.tell(number, *_left_out(self.parts[number].name, whole=bool(stretches) and not gaps))
        for one, other in combinations(stretches, 2):
            (begin, end), (first, last) = stretches[one], stretches[other]
            if max(abs(begin - first), abs(end - last)) < SAME_STRETCH * min(end - begin, last - first):
                text = say(
                    "{photo} shows the same stretch as {other}; both were used.",
                    photo=self.parts[other].name,
                    other=self.parts[one].name,
                )
                self.tell(other, REPEATED, text)
        return Joined(tuple(strips), tuple(tuple(told) for told in self.problems), _order(stretches), gaps)


def _half_turn(part: Part) -> Part:
    """Turn a strip end for end: what was right is left, what was up is down."""
    strip = part.strip
    return replace(
        part,
        strip=replace(
            strip,
            image=np.ascontiguousarray(strip.image[::-1, ::-1]),
            crook_positions_mm=strip.from_mm + strip.to_mm - strip.crook_positions_mm[::-1],
            crook_mm=-strip.crook_mm[::-1],
        ),
        marked_end=part.far_end,
        far_end=part.marked_end,
    )


def _placed(strip: Strip, place: Place) -> Strip:
    """Put a strip at its place, and stretch it along to its scale."""
    rows, cols = strip.image.shape
    length_mm = place.scale * (cols - 1) * strip.mm_per_px
    count = max(2, round(length_mm / strip.mm_per_px) + 1)
    image = strip.image
    if count != cols:
        image = np.clip(cv2.resize(image, (count, rows), interpolation=cv2.INTER_CUBIC), 0, 1).astype(np.float32)
    return replace(
        strip,
        image=image,
        from_mm=place.from_mm,
        to_mm=place.from_mm + (count - 1) * strip.mm_per_px,
        scale_error=min(strip.scale_error, SURE * float(np.hypot(place.scale_error, 1 / rows))),
        along_error_mm=SURE * place.error_mm,
        crook_positions_mm=place.from_mm + place.scale * (strip.crook_positions_mm - strip.from_mm),
    )


def _left_out(name: str, whole: bool) -> tuple[str, str]:
    """Say why a photo could not be placed, by whether the others show the whole side: (code, text)."""
    if whole:
        return OTHER_WOOD, say(
            "{photo} shows no wood that the other photos show, though together they show the whole side; it was left "
            "out. Is it of another board or another side?",
            photo=name,
        )
    return "no_end", say(
        "{photo} could not be tied to the board by an end in view, nor by wood that the other photos show as well, so "
        "where it belongs is not known; it was left out. Let neighbouring photos overlap by a hand's length or more.",
        photo=name,
    )


def _other_length(shown_mm: float, length_mm: float) -> str:
    """Say that the ends in view and the given length contradict each other.

    >>> _other_length(1574.8, 1828.8).split(". ")[0]
    'Put together, the photos show the board to be about 62 in (1575 mm) long, and 72 in (1829 mm) were given'
    """
    shown, given = both_units(shown_mm, 1), both_units(length_mm, 1)
    return say(
        "Put together, the photos show the board to be about {shown} long, and {given} were given. Measure the board "
        "again; if the length is right, one of the ends is hidden or the photos are of two boards.",
        shown=shown,
        given=given,
    )


def _gaps(stretches: list[tuple[float, float]], length_mm: float) -> tuple[tuple[float, float], ...]:
    """Stretches of the board that none of the given ones covers.

    >>> _gaps([(0.0, 500.0), (700.0, 1500.0), (400.0, 600.0)], 1505.0)
    ((600.0, 700.0),)
    """
    found, at = [], 0.0
    for begin, end in [*sorted(stretches), (length_mm, length_mm)]:
        if begin - at > GAP_MM:
            found.append((at, begin))
        at = max(at, end)
    return tuple(found)


def _order(stretches: dict[int, tuple[float, float]]) -> tuple[int, ...]:
    """Give the parts in their order along the board, if it is clearly another than that of their numbers.

    A stretch that holds another one comes neither before nor after it.

    >>> _order({0: (0.0, 900.0), 1: (1500.0, 2400.0), 2: (700.0, 1700.0)})
    (0, 2, 1)
    >>> _order({0: (5.0, 900.0), 1: (0.0, 900.0), 2: (0.0, 2400.0)})
    ()
    """
    given = [stretches[number] for number in sorted(stretches)]
    wrong = any(
        later[0] < earlier[0] - NEAR_MM and later[1] < earlier[1] - NEAR_MM for earlier, later in combinations(given, 2)
    )
    return tuple(sorted(stretches, key=lambda number: sum(stretches[number]))) if wrong else ()
