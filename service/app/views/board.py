"""What a board's page shows: its answer, what to do next, its photos, and all that can be told about it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service.app.views.answer import worst_side
from service.app.views.asking import Ask, ask_of, sharpened
from service.app.views.kept_board import (
    BOW_NAMES,
    HAND_NAMES,
    SIZE_NAMES,
    face_and_edge,
    is_stale,
    picture_address,
    texts_of,
    units_of,
)
from service.app.views.rack import bow_words, line_of
from service.app.views.shots import CLOSE, Shot, shot_of
from service.app.views.start import StartPage, start_page
from service.board.phrase import side_title
from service.checking import PhotoCheck
from service.errors import StavesightError
from service.judge.record import Answer
from service.language import say
from service.lengths import length_in
from service.settings import Settings
from service.show.words import verdict_sentence, verdict_word
from service.sides import SIDES
from service.store.rows import BoardRow, PhotoRow, ReadingRow, ShareRow

NOTE_NAMES: Final = ("name", "price", "note")
"""What may be told about a board besides what a reading needs."""


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
    state: str
    changed: str
    ask: Ask | None
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
    wanted: str = "",
) -> BoardPage:
    """Show a board, what was typed in vain, and the open question that is wanted by its number."""
    told = state.board.told
    texts = {**texts_of(told), **(typed or {})}
    notes = {"name": told.name, "price": told.price, "note": told.note}
    slots = (*SIDES, *(f"{CLOSE}{side}" for side in SIDES), "end")
    places = {slot: shot_of(told, state.photos, state.checks, slot, touch) for slot in slots}
    shots = [places[slot] for slot in SIDES]
    said = _said(state)
    ask = ask_of(state.answer, places, wanted) if said is not None else None
    return BoardPage(
        id=state.board.id,
        name=told.name or say("Board"),
        size=size_words(state.board),
        chosen=told.chosen,
        told={name: texts.get(name, text) for name, text in notes.items()},
        form=start_page(settings, texts, refused),
        said=said,
        state=_state_words(state),
        changed="" if state.stale or said is None else sharpened(state.answer, told),
        ask=ask,
        is_reading=state.is_reading,
        is_first=state.is_first,
        trouble=state.refusal.text if state.refusal is not None and not state.is_reading else "",
        step=_next_step(state, shots, ask),
        can_read=face_and_edge(state.photos),
        shots=shots,
        more=[places[slot] for slot in slots if slot not in SIDES],
        photo_bytes=settings.photo_bytes,
        shared=any(share.withdrawn is None for share in state.shares),
        once=touch,
        bow=bow_words(texts_of(told)),
    )


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
        say("{side}, the side whose grain runs steepest, with its grain lines.", side=side_title(side)) if side else "",
        state.stale,
    )


def _state_words(state: BoardState) -> str:
    """Say in a line whether the board is being read, and whether its answer still holds."""
    if state.is_reading:
        return say("It is being read again now.") if state.answer is not None else say("It is being read now.")
    if state.stale:
        return say("From before the last photo or change: read it again.")
    return ""


def _next_step(state: BoardState, shots: Sequence[Shot], ask: Ask | None) -> Step:
    """Choose the one thing to do next."""
    board = f"/boards/{state.board.id}"
    bad = next((shot for shot in shots if shot.state == "again"), None)
    empty = next((shot for shot in shots if shot.state == "empty"), None)
    if bad is not None:
        return Step(say("Take {photo} again", photo=bad.named), f"#shot_{bad.slot}")
    if empty is not None and state.answer is None:
        return Step(say("Photograph {photo}", photo=empty.named), f"#shot_{empty.slot}")
    answer = state.answer
    if answer is None or state.stale:
        words = say("Show the answer") if state.is_reading else say("Read the board")
        return Step(words, action=f"{board}/reading", reads=True)
    if empty is not None and answer.verdict in ("borderline", "retake"):
        return Step(say("Photograph {photo}", photo=empty.named), f"#shot_{empty.slot}")
    if ask is not None:
        words = say("See what to photograph again") if answer.verdict == "retake" else say("See what would tell")
        return Step(words, f"{board}?ask={ask.number}#ask")
    if answer.verdict in ("retake", "borderline") and answer.open_questions:
        return Step(say("See what would tell"), f"{board}/answer#next")
    if answer.verdict == "pass":
        return Step(say("See where to cut"), f"{board}/answer")
    return Step(say("Next board"), action="/boards/next")
