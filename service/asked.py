"""What the user asks: typed texts and photos turned into one `Wish`, the same way for pages, API and command line."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, cast

from service.board.by_hand import ByHand
from service.errors import BadInput, BadPhoto
from service.hand_texts import HAND_FIELDS, read_by_hand
from service.judge.limits import Limits
from service.language import language, say
from service.lengths import Units, use_units
from service.limit_texts import LIMIT_FIELDS, read_bow_width, read_limits
from service.line_tests import PAGE_PARTS, TEXT_EXAMPLE
from service.reading import Wish
from service.sides import SIDES, BoardSize
from service.sizes import BOW_LENGTH, board_size, parse_length
from service.upload import Upload

Corners = tuple[tuple[float, float], ...]

_LONGEST_WOOD: Final = 60  # characters


@dataclass(frozen=True)
class Field:
    """Something the user gives: its name, what it is, an example; a text or one or several files."""

    name: str
    help: str
    example: str = ""


TEXT_FIELDS: Final = (
    Field("bow_length", "Length of the bow that is wanted.", "68 in"),
    Field("length", "Length of the board.", "96 in"),
    Field("size", "Store size of the board; stands in for width and thickness.", "1x2"),
    Field("width", "Width of the board, measured across a face.", "1-1/2 in"),
    Field("thickness", "Thickness of the board, measured across an edge.", "3/4 in"),
    Field("units", "in or mm: what lengths are told in, and the unit of one typed without (else it is refused).", "in"),
    Field("wood", "What wood it is, as the user names it.", "red oak"),
    *(Field(*told) for told in LIMIT_FIELDS),
    *(
        Field(
            f"corners_{side}",
            f"The corners of {side} in its only photo, when it is not found by itself: column,row pixels of the "
            "marked end's upper corner, the far end's upper, the far end's lower, the marked end's lower.",
            "210,1480 3890,1462 3888,1610 208,1634",
        )
        for side in SIDES
    ),
    *(
        Field(
            method,
            f"{words} along the grain, which follows the fibre: side, rise, up or down (toward the upper or lower long "
            "corner of that side's upright photo, going from the marked end), over which length and, if known, at "
            "which distance of its middle from the marked end. Several with a semicolon between them.",
            TEXT_EXAMPLE,
        )
        for method, words in (("ink", "Line of ink drawn"), ("scribe", "Line of a scribe pulled"))
    ),
    *(Field(*told) for told in HAND_FIELDS),
)

PAGE_FIELDS: Final = tuple(
    Field(PAGE_PARTS[part], f"{words} The same as in the text of an ink or scribe test, in parts.", example)
    for part, words, example in (
        ("method", "ink or scribe.", "ink"),
        ("side", "The side on which a line was drawn; the other parts belong to it.", "face_1"),
        ("rise", "How far the line rises.", "1/8 in"),
        ("toward", "upper or lower: the long corner it runs toward, going from the marked end.", "upper"),
        ("run", "Over which length.", "10 in"),
        ("position", "Distance of its middle from the marked end, if known.", "36 in"),
    )
)
"""Texts that a page asks for apart, where command line and programs give one text."""

FILE_FIELDS: Final = (
    *(Field(side, f"Photos of {side}: one of its whole length, or several from the marked end on.") for side in SIDES),
    *(Field(f"close_{side}", f"Close-ups of {side}: a hand's length of it across the picture.") for side in SIDES),
    Field("end", "The marked end head on, face 1 up."),
)

Photos = Mapping[str, Sequence[Upload]]


def read_units(text: str) -> Units | None:
    """Tell the units that were chosen; none when nothing was.

    >>> read_units("in"), read_units("")
    ('in', None)
    """
    tidy = text.strip().lower()
    if tidy not in ("", "in", "mm"):
        raise BadInput(say("“{units}” are no units known here: choose in or mm.", units=tidy[:20]), "units")
    return cast("Units", tidy) if tidy else None


def read_corners(text: str, field: str) -> Corners | None:
    """Read four corners given by hand, as (column, row) pixels; none when nothing was typed.

    >>> read_corners("1,2 9,2 9,4 1,4", "corners_face_1")
    ((1.0, 2.0), (9.0, 2.0), (9.0, 4.0), (1.0, 4.0))
    """
    pairs = [pair.split(",") for pair in text.split()]
    if not pairs:
        return None
    try:
        corners = tuple((float(col), float(row)) for col, row in pairs)
    except ValueError:
        corners = ()
    if len(corners) != 4 or not all(0 <= value < 1e6 for corner in corners for value in corner):
        text = say(
            "Corners are four pairs of column,row pixels with spaces between them, such as {example}: marked end "
            "upper, far end upper, far end lower, marked end lower.",
            example="210,1480 3890,1462 3888,1610 208,1634",
        )
        raise BadInput(text, field)
    return corners


@dataclass(frozen=True)
class Texts:
    """The typed part of what is asked, read."""

    size: BoardSize
    nominal: str | None
    bow_length_mm: float
    species: str | None
    by_hand: ByHand
    limits: Limits
    bow_width_mm: float | None


def read_texts(typed: Mapping[str, str]) -> Texts:
    """Read the typed texts, by the names in `TEXT_FIELDS` and `PAGE_FIELDS`; a missing one counts as left empty.

    Raises
    ------
    BadInput
        A size, unit or name that cannot be used.
    """
    units = read_units(typed.get("units", ""))
    with use_units(units or "in"):
        return _read_texts(typed, units)


def _read_texts(typed: Mapping[str, str], units: Units | None) -> Texts:
    bow_length_mm = parse_length(typed.get("bow_length", ""), BOW_LENGTH, "bow_length", units)
    size, nominal = board_size(
        typed.get("length", ""), typed.get("width", ""), typed.get("thickness", ""), typed.get("size", ""), units
    )
    species = " ".join(typed.get("wood", "").split()) or None
    if species is not None and len(species) > _LONGEST_WOOD:
        raise BadInput(say("Name the wood in at most {count} letters.", count=_LONGEST_WOOD), "wood")
    return Texts(
        size,
        nominal,
        bow_length_mm,
        species,
        read_by_hand(typed, size, units),
        read_limits(typed, units),
        read_bow_width(typed.get("bow_width", ""), size, units),
    )


def make_wish(typed: Mapping[str, str], photos: Photos) -> Wish:
    """Put together what is asked.

    Parameters
    ----------
    typed
        Texts by the names in `TEXT_FIELDS` and `PAGE_FIELDS`; a missing one counts as left empty.
    photos
        Photos by the names in `FILE_FIELDS`, in order from the marked end.

    Raises
    ------
    BadInput
        A text or corner that cannot be used, or no photo of a whole side.
    BadPhoto
        An empty file.
    """
    texts = read_texts(typed)
    _check_photos(photos)
    whole = {side: _with_corners(typed, side, photos[side]) for side in SIDES if photos.get(side)}
    closeups = {side: tuple(photos[f"close_{side}"]) for side in SIDES if photos.get(f"close_{side}")}
    ends = photos.get("end", ())
    return Wish(
        texts.size,
        texts.bow_length_mm,
        whole,
        closeups,
        ends[0] if ends else None,
        texts.nominal,
        texts.species,
        read_units(typed.get("units", "")) or "in",
        texts.by_hand,
        texts.limits,
        texts.bow_width_mm,
        language(),
    )


def _check_photos(photos: Photos) -> None:
    for field, uploads in photos.items():
        for upload in uploads:
            if not upload.data:
                text = say("A photo is empty (0 bytes): choose it again.")
                if upload.name:
                    text = say("{photo} is empty (0 bytes): choose it again.", photo=upload.name)
                raise BadPhoto(text, field)
    if len(photos.get("end", ())) > 1:
        raise BadInput(say("Give one photo of the marked end, not several."), "end")
    if not any(photos.get(side) for side in SIDES):
        raise BadInput(say("No photo of a whole side was given: give one of each side, face 1 first."), "face_1")


def _with_corners(typed: Mapping[str, str], side: str, uploads: Sequence[Upload]) -> tuple[Upload, ...]:
    """Join the corners given by hand to a side's only photo."""
    field = f"corners_{side}"
    corners = read_corners(typed.get(field, ""), field)
    if corners is None:
        return tuple(uploads)
    if len(uploads) != 1:
        raise BadInput(say("Corners of {side} can be given only when it has one photo.", side=side), field)
    return (Upload(uploads[0].name, uploads[0].data, corners),)
