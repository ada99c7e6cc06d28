"""The whole line: photos in, answer out."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

from service.board.assemble import SideGiven, assemble, board_grid
from service.board.by_hand import ByHand
from service.board.phrase import side_text, side_title
from service.errors import BadInput, Problem, StavesightError
from service.grain.rings import EndRings
from service.grain.types import CloseGrain
from service.judge.judge import judge
from service.judge.limits import DEFAULT, Limits
from service.judge.record import Answer
from service.language import ENGLISH, say, use_language
from service.lengths import Units, use_units
from service.photo.types import Strip
from service.show.close_look import close_name, close_photo
from service.show.margin_picture import margin_picture
from service.show.picture import side_picture
from service.show.worst_place import PLACE, worst_picture, worst_place
from service.sides import SIDES, BoardSize
from service.sight import SideSight, see_close, see_end, see_side
from service.upload import Upload

__all__ = ["Outcome", "Upload", "Wish", "read_board"]

AT_ONCE = 2
"""Photos opened at the same time; each holds about 100 MB while it is read."""


@dataclass(frozen=True)
class Wish:
    """All that the user gives.

    Attributes
    ----------
    size, bow_length_mm
        The board and the bow.
    photos
        Side name to its photos, in order from the marked end. Sides may be left out.
    closeups
        Side name to its close-ups.
    end
        The marked end photographed head on, face 1 up.
    nominal, species
        As the user named them.
    units
        What the rulers on the pictures show, and what is named first of a length.
    by_hand
        Tests, knots and cracks entered by hand.
    limits
        What the bow is held to.
    bow_width_mm
        Width of the bow at its widest; None for as wide as the board.
    language
        Tag of the language in which it is answered.
    """

    size: BoardSize
    bow_length_mm: float
    photos: Mapping[str, tuple[Upload, ...]]
    closeups: Mapping[str, tuple[Upload, ...]] = field(default_factory=dict)
    end: Upload | None = None
    nominal: str | None = None
    species: str | None = None
    units: Units = "in"
    by_hand: ByHand = field(default_factory=ByHand)
    limits: Limits = DEFAULT
    bow_width_mm: float | None = None
    language: str = ENGLISH


@dataclass(frozen=True)
class Outcome:
    """What a reading gives.

    Attributes
    ----------
    answer, pictures
        The answer, and SVG documents: each side's marked picture by its name, and "margin" where there is one.
    looks
        SVG documents for whoever looks closer: each side's photo alone by `close_name`, and the place that decides,
        `PLACE`, where a photo shows it.
    """

    answer: Answer
    pictures: Mapping[str, str]
    looks: Mapping[str, str] = field(default_factory=dict)


def read_board(wish: Wish, progress: Callable[[str], None] = lambda _: None) -> Outcome:
    """Read a board from its photos and judge it.

    Parameters
    ----------
    wish
        Board, bow and photos.
    progress
        Called with a sentence before each step that takes a while.

    Returns
    -------
    Outcome

    Raises
    ------
    BadInput
        No photo at all, or corners by hand that are nonsense.
    BadPhoto, TooLarge
        A file that is no readable photo.
    """
    with use_language(wish.language), use_units(wish.units):
        return _read(wish, progress)


def _read(wish: Wish, progress: Callable[[str], None]) -> Outcome:
    if not any(wish.photos.values()):
        raise BadInput(say("Give at least one photo of a face and one of an edge."), "face_1")
    given, notes = _see_sides(wish, progress)
    closeups, end, more = _see_more(wish, progress)
    progress(say("Judging the board"))
    reading = assemble(wish.size, given, closeups, end, (*notes, *more), wish.by_hand)
    answer = judge(reading, wish.bow_length_mm, wish.limits, wish.nominal, wish.species, bow_width_mm=wish.bow_width_mm)
    pictures: dict[str, str] = {
        side: side_picture(given[side].strips, side, answer, wish.units)
        for side in SIDES
        if side in given and given[side].grain is not None
    }
    margin = margin_picture(answer, wish.units)
    if margin is not None:
        pictures["margin"] = margin
    strips: dict[str, Sequence[Strip]] = {side: given[side].strips for side in SIDES if side in pictures}
    return Outcome(answer, pictures, _looks(wish.size, strips, answer))


def _looks(size: BoardSize, strips: Mapping[str, Sequence[Strip]], answer: Answer) -> dict[str, str]:
    """Make what whoever looks closer will see."""
    looks = {close_name(side): close_photo(own, size.length_mm, size.across_mm(side)) for side, own in strips.items()}
    place = worst_place(answer, strips)
    small = worst_picture(strips[place.side], place, answer) if place is not None else None
    return looks if small is None else {**looks, PLACE: small}


def _see_sides(wish: Wish, progress: Callable[[str], None]) -> tuple[dict[str, SideGiven], list[Problem]]:
    grid_mm = board_grid(wish.size.length_mm)

    def see(side: str) -> SideSight:
        with use_language(wish.language), use_units(wish.units):  # a thread begins without either
            progress(say("Reading {side}", side=side_text(side)))
            try:
                return see_side(wish.photos[side], wish.size.length_mm, wish.size.across_mm(side), grid_mm)
            except StavesightError as error:
                error.field = error.field or side
                raise

    names = [side for side in SIDES if wish.photos.get(side)]
    with ThreadPoolExecutor(AT_ONCE) as pool:
        seen = dict(zip(names, pool.map(see, names), strict=True))
    given = {s: SideGiven(got.grain, got.problem, got.strips, got.notes) for s, got in seen.items()}
    notes = [
        Problem(told.code, say("{side}: {problem}", side=side_title(side), problem=told.text))
        for side in names
        for told in seen[side].told
    ]
    for index, side in enumerate(names):
        for other in names[:index]:
            if set(seen[side].digests) & set(seen[other].digests):
                text = say(
                    "{side} and {other} were given the same photo. Photograph each side.",
                    side=side_title(other),
                    other=side_text(side),
                )
                twice = Problem("same_photo", text)
                notes.append(twice)
                for name in (side, other):
                    given[name] = replace(given[name], grain=None, problem=twice)
    return given, notes


def _see_more(
    wish: Wish, progress: Callable[[str], None]
) -> tuple[dict[str, list[CloseGrain]], EndRings | None, list[Problem]]:
    """Read close-ups and the end; what cannot be read is told and left out."""
    closeups: dict[str, list[CloseGrain]] = {}
    notes: list[Problem] = []
    for side, uploads in wish.closeups.items():
        for upload in uploads:
            progress(say("Reading the close-up of {side}", side=side_text(side)))
            close = see_close(upload, wish.size.across_mm(side))
            if isinstance(close, Problem):
                text = say("The close-up of {side} was left out.", side=side_text(side))
                notes.append(Problem(f"close_{close.code}", f"{text} {close.text}"))
            else:
                closeups.setdefault(side, []).append(close)
    if wish.end is None:
        return closeups, None, notes
    progress(say("Reading the end"))
    end = see_end(wish.end, wish.size.width_mm, wish.size.thickness_mm)
    if isinstance(end, Problem):
        text = say("The end photo was left out.")
        notes.append(Problem(f"end_{end.code}", f"{text} {end.text}"))
        return closeups, None, notes
    return closeups, end, notes
