"""The check of single photos as a record: the same for the command line and whoever else asks."""

from collections.abc import Mapping, Sequence
from typing import Final

from pydantic import BaseModel, ConfigDict, Field

from service.asked import read_units
from service.errors import BadPhoto, Problem, TooLarge
from service.language import ENGLISH, say, use_language
from service.lengths import MM_PER_IN, Units, use_units
from service.photo.check import Check, check_photo
from service.photo.decode import MAX_BYTES, MAX_PIXELS
from service.sizes import BOARD_LENGTH, THICKNESS, WIDTH, parse_length, store_size
from service.upload import Upload

CHECK_FIELDS: Final = ("length", "width", "thickness", "size", "units")
"""Which of the typed texts of a reading a check can use; none is needed."""


class _Part(BaseModel):
    """A part of the record; it never changes once made and holds no field that is not described."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class CheckReason(_Part):
    """Something about a photo, and what to do about it."""

    code: str = Field(description="Short fixed name, for programs.")
    text: str = Field(description="What is so and what to do, as a sentence.")


class PhotoCheck(_Part):
    """What one photo is good for."""

    file: str = Field(description="Name of the photo.")
    usable: bool = Field(description="Whether the side in it can be read.")
    reasons: list[CheckReason] = Field(description="Why it cannot be read, most telling first; empty when it can.")
    advice: list[CheckReason] = Field(description="What would make a usable photo better.")
    outline: list[list[float]] | None = Field(
        description="Corners of the side as [column, row] pixels of the upright photo: marked end upper, far end "
        "upper, far end lower, marked end lower; null when no board was found."
    )
    pixels_across: float | None = Field(description="Mean width of the side in pixels; null without an outline.")
    pixels_per_mm: float | None = Field(
        description="Pixels per millimetre of board; null without an outline or when no size tells the scale."
    )
    finest_mm: float | None = Field(
        description="Spacing of the finest lines the photo can tell apart, in millimetres; null without a scale."
    )
    sharpness: float | None = Field(
        description="0 (nothing at the photo's own scale) to 1 (as sharp as pixels allow); null without an outline."
    )
    size_px: tuple[int, int] | None = Field(
        None, description="Columns and rows of the upright photo; null when it could not be opened."
    )


def check(
    upload: Upload,
    length_mm: float | None = None,
    across_mm: Sequence[float] = (),
    max_bytes: int = MAX_BYTES,
    max_pixels: int = MAX_PIXELS,
    *,
    language: str = ENGLISH,
) -> PhotoCheck:
    """Judge one photo of a side by itself, before anything is read from it; a file that is no photo is not usable.

    Parameters
    ----------
    upload
        The photo: of a whole side, a part of it, or a close-up; with its corners when they were set by hand.
    length_mm
        The board's length, when known.
    across_mm
        How wide the side may be: the board's width and thickness when it is not known which of the two it shows.
    max_bytes, max_pixels
        Limits, checked before anything is decoded.
    language
        Tag of the language in which it is told.
    """
    with use_language(language):
        try:
            found = check_photo(upload.data, upload.name, length_mm, across_mm, max_bytes, max_pixels, upload.corners)
        except (BadPhoto, TooLarge) as error:
            found = Check((Problem(error.code, error.text),))
    return record(upload.name, found)


def read_check_sizes(typed: Mapping[str, str]) -> tuple[float | None, tuple[float, ...]]:
    """Read the sizes that help a check: the board's length, and how wide the side in a photo may be, in millimetres.

    Parameters
    ----------
    typed
        Texts by the names in `CHECK_FIELDS`; a missing one counts as left empty.

    Raises
    ------
    BadInput
        A size or unit that cannot be used.

    >>> read_check_sizes({"length": "8 ft", "width": "2-1/2 in"})
    (2438.4, (63.5,))
    """
    given = {name: typed.get(name, "").strip() for name in CHECK_FIELDS}
    units = read_units(given["units"])
    with use_units(units or "in"):
        length_mm = parse_length(given["length"], BOARD_LENGTH, "length", units) if given["length"] else None
        store = store_size(given["size"]) if given["size"] else None
        widths = [
            parse_length(given[name], span, name, units) if given[name] else store_mm
            for name, span, store_mm in (
                ("width", WIDTH, store.width_mm if store else None),
                ("thickness", THICKNESS, store.thickness_mm if store else None),
            )
        ]
    return length_mm, tuple(width for width in widths if width is not None)


def check_sentences(one: PhotoCheck, units: Units) -> list[str]:
    """Say a check in plain sentences, the verdict first.

    >>> check_sentences(record("face.jpg", Check((Problem("no_board", "No board was found."),))), "in")
    ['face.jpg: cannot be used. No board was found.']
    """
    if not one.usable:
        reasons = " ".join(reason.text for reason in one.reasons)
        return [say("{photo}: cannot be used. {reasons}", photo=one.file, reasons=reasons)]
    pixels = f"{one.pixels_across:.0f}"
    if one.finest_mm is None:
        told = say("{photo}: can be used. The side is {pixels} pixels wide.", photo=one.file, pixels=pixels)
    else:
        told = say(
            "{photo}: can be used. The side is {pixels} pixels wide, and lines {spacing} apart and more can be told "
            "from each other.",
            photo=one.file,
            pixels=pixels,
            spacing=_spacing(one.finest_mm, units),
        )
    better = [say("To do better: {advice}", advice=advice.text) for advice in one.advice]
    return [told, *(f"  {advice}" for advice in better)]


def _spacing(spacing_mm: float, units: Units) -> str:
    """Write a spacing of lines, which is too small for sixteenths of an inch.

    >>> _spacing(1.27, "in"), _spacing(1.27, "mm")
    ('0.05 in', '1.3 mm')
    """
    if units == "in":
        return say("{inches} in", inches=f"{spacing_mm / MM_PER_IN:.2f}")
    return say("{mm} mm", mm=f"{spacing_mm:.1f}")


def record(name: str, found: Check) -> PhotoCheck:
    """Write a check down.

    >>> record("face.jpg", Check((Problem("no_board", "No board was found."),))).reasons[0].code
    'no_board'
    """
    return PhotoCheck(
        file=name,
        usable=not found.problems,
        reasons=[CheckReason(code=problem.code, text=problem.text) for problem in found.problems],
        advice=[CheckReason(code=advice.code, text=advice.text) for advice in found.advice],
        outline=found.outline.corners if found.outline else None,
        pixels_across=_round(found.across_px, 1),
        pixels_per_mm=_round(found.px_per_mm, 3),
        finest_mm=_round(found.finest_mm, 2),
        sharpness=_round(found.sharpness, 3),
        size_px=found.size_px,
    )


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
