"""The places for a board's photos: what each is called, which photos it holds, and what they are good for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final

from service.app.views.kept_board import hand_corners
from service.board.phrase import side_text, side_title
from service.checking import PhotoCheck
from service.language import mark, say
from service.photo.quality import LEAST_ACROSS_PX, LEAST_PX_PER_MM
from service.sides import FACES, SIDES
from service.store.rows import BoardTold, PhotoRow

CLOSE: Final = "close_"
"""Begins the name of a close-up's place, ended by the side's."""

_HINTS: Final[Mapping[str, str]] = {
    "face_1": mark("A wide side, its whole length. Choose either, and call it face 1."),
    "edge_1": mark("The narrow side that the roll brings up."),
    "face_2": mark("The other wide side."),
    "edge_2": mark("The other narrow side."),
    "end": mark("Head on, face 1 up."),
}
_CLOSE_HINT: Final = mark("A hand’s length of it, both long corners in view.")

HAND_MM: Final = 180.0
"""A hand's length, which a close-up is to show: common practice, no source."""


@dataclass(frozen=True)
class Thumb:
    """A kept photo.

    Attributes
    ----------
    words, advice
        What its check says, and what would make it better.
    usable, found
        What the check decided, and whether the board was found; None when it was not looked at.
    outline, size
        Corners of the board and size of the photo as a drawing takes them; empty when they are not known.
    by_hand
        Whether the corners were set by hand.
    """

    id: str
    words: str
    advice: str
    usable: bool | None
    found: bool | None
    outline: str
    size: str
    by_hand: bool


@dataclass(frozen=True)
class Shot:
    """A place for photos: its name, the photos in it, and how they do: good, again or empty.

    `words` begin a line, `named` stand in a sentence. Where the size is known, `thin` is how wide the side is against
    the length that is to be in view, and `least_px` how many pixels of a photo the whole length has to span so that
    the side can be read.
    """

    slot: str
    words: str
    named: str
    hint: str
    wide: bool
    state: str
    photos: Sequence[Thumb]
    key: str
    thin: float | None = None
    least_px: int | None = None

    @property
    def is_close(self) -> bool:
        """Whether it is the place of a close-up."""
        return self.slot.startswith(CLOSE)


def shot_of(
    told: BoardTold, photos: Sequence[PhotoRow], checks: Mapping[str, PhotoCheck], slot: str, touch: str
) -> Shot:
    """Show a place for photos of a board."""
    thumbs = [_thumb(told, row, checks.get(row.id)) for row in photos if row.slot == slot]
    state = "empty" if not thumbs else "again" if any(thumb.usable is False for thumb in thumbs) else "good"
    wide = slot.removeprefix(CLOSE) in FACES
    words = (slot_title(slot), slot_named(slot), slot_hint(slot))
    return Shot(slot, *words, wide, state, thumbs, f"{touch}-{slot}", *_guide(told, slot, wide))


def side_shots() -> list[Shot]:
    """Return the places for the four sides of a board of which nothing is kept yet."""
    return [
        Shot(slot, slot_title(slot), slot_named(slot), slot_hint(slot), slot in FACES, "empty", [], "")
        for slot in SIDES
    ]


def slot_title(slot: str) -> str:
    """Name a place where it begins a line.

    >>> slot_title("close_edge_2")
    'Close-up of edge 2'
    """
    if slot == "end":
        return say("The marked end")
    side = slot.removeprefix(CLOSE)
    return side_title(side) if side == slot else say("Close-up of {side}", side=side_text(side))


def slot_named(slot: str) -> str:
    """Name a place in a sentence.

    >>> slot_named("close_edge_2"), slot_named("face_1")
    ('the close-up of edge 2', 'face 1')
    """
    if slot == "end":
        return say("the marked end")
    side = slot.removeprefix(CLOSE)
    return side_text(side) if side == slot else say("the close-up of {side}", side=side_text(side))


def slot_hint(slot: str) -> str:
    """Say what a photo of a place is to show."""
    return say(_CLOSE_HINT) if slot.startswith(CLOSE) else say(_HINTS[slot])


def check_words(check: PhotoCheck | None) -> str:
    """Say in short what a photo is good for, and what to do about it."""
    return " ".join(filter(None, _words_of(check)))


def _words_of(check: PhotoCheck | None) -> tuple[str, str]:
    """Say what a photo is good for, and what would make it better."""
    if check is None:
        return say("Kept."), ""
    if not check.usable:
        return say("Take it again. {reasons}", reasons=" ".join(reason.text for reason in check.reasons)), ""
    return say("Good."), " ".join(advice.text for advice in check.advice)


def _thumb(told: BoardTold, photo: PhotoRow, check: PhotoCheck | None) -> Thumb:
    words, advice = _words_of(check)
    outline = (check.outline if check is not None else None) or []
    size_px = check.size_px if check is not None else None
    return Thumb(
        photo.id,
        words,
        advice,
        None if check is None else check.usable,
        None if check is None else check.outline is not None,
        " ".join(f"{col:.0f},{row:.0f}" for col, row in outline) if size_px else "",
        f"{size_px[0]} {size_px[1]}" if size_px else "",
        hand_corners(told, photo.slot) is not None,
    )


def _guide(told: BoardTold, slot: str, wide: bool) -> tuple[float | None, int | None]:
    """Return how thin a side is, and how many pixels its whole length has to span."""
    across_mm = told.width_mm if wide else told.thickness_mm
    if not across_mm or not told.length_mm or slot == "end":
        return None, None
    if slot not in SIDES:
        return round(across_mm / HAND_MM, 4), None
    px_per_mm = max(LEAST_PX_PER_MM, LEAST_ACROSS_PX / across_mm)
    return round(across_mm / told.length_mm, 4), ceil(px_per_mm * told.length_mm)
