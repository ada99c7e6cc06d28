"""What a person enters by hand about a board: tests of the fibre, knots put in or taken away, cracks in the ends."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from service.board.entered import EnteredSlope
from service.board.phrase import either, length_text, listed, side_text, stretch_text, word_of
from service.board.types import SideReading
from service.errors import BadInput, Problem
from service.grain.types import KnotBox
from service.language import say
from service.lengths import both_units
from service.sides import SIDES, BoardSize

POINT_MM: Final = 12.7
"""Length along the board of a knot of which only the place was told, 1/2 in: what grading rules of softwood still call
a pin knot (from memory). The sound wood wanted beside a knot comes on top."""

NEAR_MM: Final = 25.4
"""A knot this close (1 in) to the place told is the one that is meant. People read the place of a knot off a tape to
within a quarter inch, and a photo's scale may be off by a little more. Common practice, no source."""

PLAY_MM: Final = 1.0
"""So far outside the board a place may lie by the rounding of units, and is taken for the board's own end or corner."""


@dataclass(frozen=True)
class EnteredKnot:
    """A knot pointed at: the side it shows on and the rectangle around it."""

    side: str
    box: KnotBox


@dataclass(frozen=True)
class DismissedKnot:
    """A place where a person sees no knot: the side, and the distance from the marked end."""

    side: str
    position_mm: float


@dataclass(frozen=True)
class ByHand:
    """All that was entered by hand.

    Attributes
    ----------
    tests
        Ink and scribe tests.
    knots, no_knots
        Knots to put in, and places of which found ones are to be taken away.
    end_checks_mm
        How far cracks reach in from the marked and from the far end; 0 when none was told.
    """

    tests: tuple[EnteredSlope, ...] = ()
    knots: tuple[EnteredKnot, ...] = ()
    no_knots: tuple[DismissedKnot, ...] = ()
    end_checks_mm: tuple[float, float] = (0.0, 0.0)


def enter_knot(
    size: BoardSize,
    side: str,
    from_mm: float,
    to_mm: float,
    across_mm: tuple[float, float] | None = None,
) -> EnteredKnot:
    """Make a knot of what was told, or refuse what lies outside the board.

    Parameters
    ----------
    size
        The board.
    side
        Name of the side.
    from_mm, to_mm
        Where it begins and ends, from the marked end. Equal when only its place was told: then it is taken to be
        `POINT_MM` long.
    across_mm
        Its lower and upper end above the side's lower long corner; the whole width when not told.

    Raises
    ------
    BadInput
        Its field is "knot".

    Examples
    --------
    >>> enter_knot(BoardSize(2000.0, 40.0, 20.0), "edge_1", 900.0, 900.0).box
    KnotBox(from_mm=893.65, to_mm=906.35, across_from_mm=0.0, across_to_mm=20.0)
    """
    _check_side(side, "knot")
    for position_mm in (from_mm, to_mm):
        _check_position(size, position_mm, "knot")
    if from_mm > to_mm:
        told = say(
            "The knot cannot begin at {begin} and end before that, at {end}: write the place nearer the marked end "
            "first.",
            begin=both_units(from_mm),
            end=both_units(to_mm),
        )
        raise BadInput(told, "knot")
    from_mm, to_mm = min(from_mm, size.length_mm), min(to_mm, size.length_mm)
    if from_mm == to_mm:
        from_mm, to_mm = from_mm - POINT_MM / 2, to_mm + POINT_MM / 2
    wide_mm = size.across_mm(side)
    low_mm, high_mm = across_mm or (0.0, wide_mm)
    if not 0.0 <= low_mm < high_mm <= wide_mm + PLAY_MM:
        told = say(
            "The knot cannot lie across from {low} to {high}: {side} is {width} wide, counted from the lower long "
            "corner of its upright photo. Write the lower end first, or leave the part after “across” out.",
            low=both_units(low_mm),
            high=both_units(high_mm),
            side=side_text(side),
            width=both_units(wide_mm),
        )
        raise BadInput(told, "knot")
    box = KnotBox(max(from_mm, 0.0), min(to_mm, size.length_mm), low_mm, min(high_mm, wide_mm))
    return EnteredKnot(side, box)


def dismiss_knot(size: BoardSize, side: str, position_mm: float) -> DismissedKnot:
    """Note a place where a person sees no knot, or refuse one outside the board.

    Raises
    ------
    BadInput
        Its field is "no_knot".

    Examples
    --------
    >>> dismiss_knot(BoardSize(2000.0, 40.0, 20.0), "face_1", 900.0).position_mm
    900.0
    """
    _check_side(side, "no_knot")
    _check_position(size, position_mm, "no_knot")
    return DismissedKnot(side, position_mm)


def check_end_check(size: BoardSize, end: str, length_mm: float) -> None:
    """Refuse a crack that reaches past the middle of the board.

    Raises
    ------
    BadInput
        Its field is "end_check".
    """
    if length_mm > size.length_mm / 2:
        told = say(
            "A crack of {length} from the {end} end reaches past the middle of the board, which is {board} long: "
            "check the number and its unit. A board split so far is better left behind.",
            length=both_units(length_mm),
            end=word_of(end),
            board=both_units(size.length_mm),
        )
        raise BadInput(told, "end_check")


def _check_side(side: str, field: str) -> None:
    if side not in SIDES:
        told = say("There is no side “{side}”: write {sides}.", side=side[:20], sides=either([*SIDES]))
        raise BadInput(told, field)


def _check_position(size: BoardSize, position_mm: float, field: str) -> None:
    if not 0.0 <= position_mm <= size.length_mm + PLAY_MM:
        told = say(
            "A knot cannot lie at {place} from the marked end: the board is {length} long. Check the place and its "
            "unit.",
            place=both_units(position_mm),
            length=both_units(size.length_mm),
        )
        raise BadInput(told, field)


def with_hand_entries(
    sides: Mapping[str, SideReading], by_hand: ByHand
) -> tuple[dict[str, SideReading], tuple[Problem, ...]]:
    """Put knots in and take knots away as was entered, and say that the answer rests on it.

    A knot is put in also on a side that was not read. Knots that were put in stay, whatever is taken away.

    Parameters
    ----------
    sides
        The four sides as read.
    by_hand
        What was entered.

    Returns
    -------
    The sides, and one note for each thing that was entered besides the tests.
    """
    changed = dict(sides)
    notes = []
    for gone in by_hand.no_knots:
        read = changed[gone.side]
        kept = tuple(knot for knot in read.knots if not _near(knot, gone.position_mm))
        notes.append(_dismissed_note(gone, sides) if len(kept) < len(read.knots) else _none_there_note(gone, sides))
        changed[gone.side] = replace(read, knots=kept)
    for entered in by_hand.knots:
        read = changed[entered.side]
        changed[entered.side] = replace(
            read, knots=(*read.knots, entered.box), knots_by_hand=(*read.knots_by_hand, entered.box)
        )
        notes.append(_entered_note(entered))
    ends = zip(("marked", "far"), by_hand.end_checks_mm, strict=True)
    notes += [_check_note(end, length_mm) for end, length_mm in ends if length_mm > 0]
    return changed, tuple(notes)


def _near(knot: KnotBox, position_mm: float) -> bool:
    return knot.from_mm - NEAR_MM <= position_mm <= knot.to_mm + NEAR_MM


def _entered_note(entered: EnteredKnot) -> Problem:
    text = say(
        "A knot on {side} {stretch} was entered by hand and counts: the answer rests on it.",
        side=side_text(entered.side),
        stretch=stretch_text(entered.box.from_mm, entered.box.to_mm),
    )
    return Problem("knot_entered", text)


def _dismissed_note(gone: DismissedKnot, sides: Mapping[str, SideReading]) -> Problem:
    text = say(
        "The knot found on {side} at {place} was taken away by hand and no longer counts: the answer rests on there "
        "being none. Feel and look once more whether the lines run past it undisturbed.",
        side=side_text(gone.side),
        place=length_text(gone.position_mm),
    )
    others = [
        side_text(side)
        for side in SIDES
        if side != gone.side and any(_near(knot, gone.position_mm) for knot in sides[side].knots)
    ]
    if others:
        still = say("What was found there on {sides} still counts.", sides=listed(others))
        text = f"{text} {still}"
    return Problem("knot_dismissed", text)


def _none_there_note(gone: DismissedKnot, sides: Mapping[str, SideReading]) -> Problem:
    places = [length_text(knot.from_mm) for knot in sides[gone.side].knots]
    there = say("No knot at all was found on that side.")
    if places:
        there = say("Knots were found there at {places}.", places=listed(places))
    text = say(
        "No knot was found on {side} within {reach} of {place}, so none was taken away.",
        side=side_text(gone.side),
        reach=length_text(NEAR_MM),
        place=length_text(gone.position_mm),
    )
    return Problem("no_knot_there", f"{text} {there}")


def _check_note(end: str, length_mm: float) -> Problem:
    text = say(
        "A crack of {length} in the {end} end was entered by hand: the bow is kept clear of it, and the answer rests "
        "on how far it was followed. Checks often reach farther inside than they show: saw a thin slice off and bend "
        "it before you trust the rest.",
        length=length_text(length_mm),
        end=word_of(end),
    )
    return Problem("end_check_entered", text)
