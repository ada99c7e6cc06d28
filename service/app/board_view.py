"""What a board's page shows: its answer, what to do next, its photos, and all that can be told about it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final

from service.app.kept_board import (
    BOW_NAMES,
    HAND_NAMES,
    SIZE_NAMES,
    face_and_edge,
    is_stale,
    picture_address,
    texts_of,
    units_of,
)
from service.app.rack_view import bow_words, line_of
from service.app.start_view import SIDE_WORDS, StartPage, start_page
from service.app.views import worst_side
from service.checking import PhotoCheck
from service.errors import StavesightError
from service.judge.record import Answer
from service.photo.quality import LEAST_ACROSS_PX, LEAST_PX_PER_MM
from service.settings import Settings
from service.show.units import length_in
from service.show.words import verdict_sentence, verdict_word
from service.sides import FACES, SIDES
from service.store.rows import BoardRow, BoardTold, PhotoRow, ReadingRow, ShareRow

SLOT_WORDS: Final[Mapping[str, str]] = {
    **SIDE_WORDS,
    **{f"close_{side}": f"Close-up of {words.lower()}" for side, words in SIDE_WORDS.items()},
    "end": "The marked end",
}

_HINTS: Final[Mapping[str, str]] = {
    "face_1": "A wide side, its whole length. Choose either, and call it face 1.",
    "edge_1": "The narrow side that the roll brings up.",
    "face_2": "The other wide side.",
    "edge_2": "The other narrow side.",
    **{f"close_{side}": "A hand’s length of it, both long corners in view." for side in SIDES},
    "end": "Head on, face 1 up.",
}

HAND_MM: Final = 180.0
"""A hand's length, which a close-up is to show: common practice, no source."""

NOTE_NAMES: Final = ("name", "price", "note")
"""What may be told about a board besides what a reading needs."""


@dataclass(frozen=True)
class Thumb:
    """A kept photo: its address, and what its check says; `usable` is None when it was not looked at."""

    id: str
    words: str
    usable: bool | None


@dataclass(frozen=True)
class Shot:
    """A place for photos: its name and words, the photos in it, and how they do: good, again or empty.

    Where the size is known, `thin` is how wide the side is against the length that is to be in view, and `least_px` how
    many pixels of a photo the whole length has to span so that the side can be read.
    """

    slot: str
    words: str
    hint: str
    wide: bool
    state: str
    photos: Sequence[Thumb]
    key: str
    thin: float | None = None
    least_px: int | None = None


@dataclass(frozen=True)
class Said:
    """The newest answer in short."""

    verdict: str
    word: str
    sentence: str
    line: str
    picture: str
    alt: str
    stale: bool


@dataclass(frozen=True)
class Step:
    """What to do next: a link, or a button that sends a form; `reads` for the one that reads the board."""

    words: str
    href: str = ""
    action: str = ""
    reads: bool = False


@dataclass(frozen=True)
class BoardState:
    """All that is known of a board when its page is written."""

    board: BoardRow
    photos: Sequence[PhotoRow]
    checks: Mapping[str, PhotoCheck]
    reading: ReadingRow | None
    shares: Sequence[ShareRow]
    is_reading: bool
    refusal: StavesightError | None
    is_first: bool

    @property
    def stale(self) -> bool:
        """Whether the answer is from before the last change."""
        return self.reading is not None and is_stale(self.board, self.photos, self.reading)

    @property
    def answer(self) -> Answer | None:
        """The newest answer."""
        return self.reading.record() if self.reading is not None else None


@dataclass(frozen=True)
class BoardPage:
    """The board."""

    id: str
    name: str
    size: str
    chosen: bool
    told: Mapping[str, str]
    form: StartPage
    said: Said | None
    is_reading: bool
    is_first: bool
    trouble: str
    step: Step
    can_read: bool
    shots: Sequence[Shot]
    more: Sequence[Shot]
    photo_bytes: int
    shared: bool
    once: str
    bow: str

    def is_open(self, part: str) -> bool:
        """Tell whether a folded part is open because something in it was refused or stands in it."""
        names = {"bow": BOW_NAMES, "hand": HAND_NAMES, "size": SIZE_NAMES, "notes": NOTE_NAMES}[part]
        if self.form.refused_field in names:
            return True
        return part == "hand" and any(self.form.typed.get(name) for name in HAND_NAMES if name != "test_method")


def board_page(
    settings: Settings,
    state: BoardState,
    touch: str,
    typed: Mapping[str, str] | None = None,
    refused: StavesightError | None = None,
) -> BoardPage:
    """Show a board, and what was typed in vain."""
    told = state.board.told
    texts = {**texts_of(told), **(typed or {})}
    notes = {"name": told.name, "price": told.price, "note": told.note}
    shots = [_shot(state, slot, f"{touch}-{slot}") for slot in SIDES]
    return BoardPage(
        id=state.board.id,
        name=told.name or "Board",
        size=size_words(state.board),
        chosen=told.chosen,
        told={name: texts.get(name, text) for name, text in notes.items()},
        form=start_page(settings, texts, refused),
        said=_said(state),
        is_reading=state.is_reading,
        is_first=state.is_first,
        trouble=state.refusal.text if state.refusal is not None and not state.is_reading else "",
        step=_next_step(state, shots),
        can_read=face_and_edge(state.photos),
        shots=shots,
        more=[_shot(state, slot, f"{touch}-{slot}") for slot in (*(f"close_{side}" for side in SIDES), "end")],
        photo_bytes=settings.photo_bytes,
        shared=any(share.withdrawn is None for share in state.shares),
        once=touch,
        bow=bow_words(texts_of(told)),
    )


def side_shots() -> list[Shot]:
    """Return the places for the four sides of a board of which nothing is kept yet."""
    return [Shot(slot, SLOT_WORDS[slot], _HINTS[slot], slot in FACES, "empty", [], "") for slot in SIDES]


def size_words(board: BoardRow) -> str:
    """Say how large a board is, in the units that were chosen, and of which wood."""
    told = board.told
    units = units_of(told)
    length, thickness, width = (
        None if size_mm is None else length_in(size_mm, units)
        for size_mm in (told.length_mm, told.thickness_mm, told.width_mm)
    )
    texts = texts_of(told)
    measured = texts.get("width") or texts.get("thickness") or not told.nominal
    across = " x ".join(filter(None, (thickness, width))) if measured else told.nominal
    return ", ".join(filter(None, (length, across, told.wood)))


def _shot(state: BoardState, slot: str, key: str) -> Shot:
    thumbs = [_thumb(row, state.checks.get(row.id)) for row in state.photos if row.slot == slot]
    mark = "empty" if not thumbs else "again" if any(thumb.usable is False for thumb in thumbs) else "good"
    wide = slot.removeprefix("close_") in FACES
    guide = _guide(state.board.told, slot, wide)
    return Shot(slot, SLOT_WORDS[slot], _HINTS[slot], wide, mark, thumbs, key, *guide)


def _guide(told: BoardTold, slot: str, wide: bool) -> tuple[float | None, int | None]:
    """Return how thin a side is, and how many pixels its whole length has to span."""
    across_mm = told.width_mm if wide else told.thickness_mm
    if not across_mm or not told.length_mm or slot == "end":
        return None, None
    if slot not in SIDES:
        return round(across_mm / HAND_MM, 4), None
    px_per_mm = max(LEAST_PX_PER_MM, LEAST_ACROSS_PX / across_mm)
    return round(across_mm / told.length_mm, 4), ceil(px_per_mm * told.length_mm)


def _thumb(photo: PhotoRow, check: PhotoCheck | None) -> Thumb:
    return Thumb(photo.id, check_words(check), None if check is None else check.usable)


def check_words(check: PhotoCheck | None) -> str:
    """Say in short what a photo is good for, and what to do about it."""
    if check is None:
        return "Kept."
    if not check.usable:
        return f"Take it again. {' '.join(reason.text for reason in check.reasons)}"
    return " ".join(["Good.", *(advice.text for advice in check.advice)])


def _said(state: BoardState) -> Said | None:
    answer, reading = state.answer, state.reading
    if answer is None or reading is None:
        return None
    units = units_of(state.board.told)
    side = worst_side(answer, reading.pictures)
    return Said(
        answer.verdict,
        verdict_word(answer.verdict),
        verdict_sentence(answer, units),
        line_of(answer, units),
        picture_address(state.board.id, reading, side) if side else "",
        f"{SIDE_WORDS[side]}, the side whose grain runs steepest, with its grain lines." if side else "",
        state.stale,
    )


def _next_step(state: BoardState, shots: Sequence[Shot]) -> Step:
    """Choose the one thing to do next."""
    board = f"/boards/{state.board.id}"
    bad = next((shot for shot in shots if shot.state == "again"), None)
    empty = next((shot for shot in shots if shot.state == "empty"), None)
    if bad is not None:
        return Step(f"Take {bad.words.lower()} again", f"#shot_{bad.slot}")
    if empty is not None and state.answer is None:
        return Step(f"Photograph {empty.words.lower()}", f"#shot_{empty.slot}")
    answer = state.answer
    if answer is None or state.stale:
        return Step("Show the answer" if state.is_reading else "Read the board", action=f"{board}/reading", reads=True)
    if empty is not None and answer.verdict in ("borderline", "retake"):
        return Step(f"Photograph {empty.words.lower()}", f"#shot_{empty.slot}")
    if answer.verdict == "retake":
        return Step("See what to photograph again", f"{board}/answer#next")
    if answer.verdict == "borderline" and answer.open_questions:
        return Step("See what would tell", f"{board}/answer#next")
    if answer.verdict == "pass":
        return Step("See where to cut", f"{board}/answer")
    return Step("Next board", action="/boards/next")
