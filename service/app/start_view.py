"""What the form shows, as plain values; the template only lays it out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service.asked import FILE_FIELDS, PAGE_FIELDS, TEXT_FIELDS
from service.board.entered import METHODS
from service.errors import StavesightError
from service.judge.limits import limits_told
from service.judge.purposes import PURPOSES, TOLERANCES, UNBACKED, USUAL
from service.judge.shape import USUAL_WIDTH_MM
from service.line_tests import PAGE_PARTS, SIGNS
from service.settings import Settings
from service.show.limit_words import limit_text
from service.show.units import length_in
from service.sides import FACES, SIDES
from service.sizes import STORE_SIZES, StoreSize, Units

SIDE_WORDS: Final = {"face_1": "Face 1", "edge_1": "Edge 1", "face_2": "Face 2", "edge_2": "Edge 2"}

_SIDE_HINTS: Final = {
    "face_1": "A wide side. Choose either, and call it face 1.",
    "edge_1": "The narrow side that the roll brings up.",
    "face_2": "The other wide side.",
    "edge_2": "The other narrow side.",
}

_HEADINGS: Final = {"busy": "All readers are at work", "unfinished": "The reading stopped"}

_CHOSEN: Final = {"purpose": UNBACKED, "tolerance": USUAL}

_LIMITS: Final = {
    "back_limit": ("back_slope", "Steepest grain on the back", "Such as 1 in 18, 5 % or 3 deg."),
    "belly_limit": ("belly_slope", "Steepest grain on the belly", "Written the same way."),
    "mean_length": ("mean_length_mm", "Slopes are averaged over", "So that a short wave does not decide."),
    "knot_margin": ("knot_margin_mm", "Sound wood beside a knot", "Between a knot and an end of the bow."),
    "end_trim": ("end_trim_mm", "Sawn off at either end", "Before anything else is cut."),
    "kerf": ("kerf_mm", "Saw cut between two bows", "What the saw turns to dust."),
}

_BY_HAND: Final = {
    "knot": (
        "Knots you see",
        "Side and place from the marked end; across, if you like, counted up from the lower long corner. Several with "
        "a semicolon between them.",
    ),
    "no_knot": ("No knot after all", "Where an answer told of a knot that you cannot find. Written the same way."),
    "end_check": ("Cracks in the ends", "Which end, and how far the crack (check) reaches into the board."),
}


@dataclass(frozen=True)
class SizeGroup:
    """Store sizes under one heading of the list."""

    words: str
    sizes: Sequence[StoreSize]


@dataclass(frozen=True)
class SideField:
    """One side's photo field."""

    name: str
    words: str
    hint: str
    wide: bool


@dataclass(frozen=True)
class OwnField:
    """A text field that may stay empty."""

    name: str
    words: str
    hint: str
    example: str


@dataclass(frozen=True)
class StartPage:
    """The form, with what was typed before and, when it was refused, why."""

    typed: Mapping[str, str]
    units: Units
    refusal: str | None
    refusal_heading: str
    refused_field: str | None
    photo_bytes: int
    request_bytes: int
    sides: Sequence[SideField]
    test_sides: Sequence[tuple[str, str]]
    test_methods: Sequence[tuple[str, str]]
    test_corners: Sequence[tuple[str, str]]
    store_sizes: Sequence[SizeGroup]
    purposes: Sequence[tuple[str, str]]
    tolerances: Sequence[tuple[str, str]]
    limits: Sequence[OwnField]
    by_hand: Sequence[OwnField]
    bow_width: str
    anchors: frozenset[str]

    @property
    def more_open(self) -> bool:
        """Whether the refused field is one of the photos folded away."""
        field = self.refused_field or ""
        return field == "end" or field.startswith("close_")

    @property
    def limits_open(self) -> bool:
        """Whether anything but the usual was chosen for the bow or its limits."""
        names = ("bow_width", *_CHOSEN, *_LIMITS)
        own = any(self.typed.get(name, "") not in ("", _CHOSEN.get(name, "")) for name in names)
        return own or self.refused_field in names

    @property
    def hand_open(self) -> bool:
        """Whether something was entered by hand; the choice of ink or scribe alone is nothing."""
        names = [field for part, field in PAGE_PARTS.items() if part != "method"] + list(_BY_HAND)
        return any(self.typed.get(name) for name in names) or self.refused_field in (*names, PAGE_PARTS["method"])

    def chosen(self, name: str) -> str:
        """Return the choice that is marked."""
        return self.typed.get(name) or _CHOSEN[name]


def start_page(settings: Settings, typed: Mapping[str, str], refused: StavesightError | None = None) -> StartPage:
    """Show the form."""
    units: Units = "mm" if typed.get("units") == "mm" else "in"
    by_thickness = {
        "Softwood sizes, and hardwood sold by them": [size for size in STORE_SIZES.values() if size.width_mm],
        "Hardwood quarters, any width": [size for size in STORE_SIZES.values() if not size.width_mm],
    }
    examples = {field.name: field.example for field in TEXT_FIELDS}
    usual = {limit.name: limit_text(limit.value, limit.unit, units).partition(" (")[0] for limit in limits_told().items}
    return StartPage(
        typed=typed,
        units=units,
        refusal=refused.text if refused else None,
        refusal_heading=_HEADINGS.get(refused.code, "Something needs another look") if refused else "",
        refused_field=refused.field if refused else None,
        photo_bytes=settings.photo_bytes,
        request_bytes=settings.request_bytes,
        sides=[SideField(side, SIDE_WORDS[side], _SIDE_HINTS[side], side in FACES) for side in SIDES],
        test_sides=[("", "No test"), *SIDE_WORDS.items()],
        test_methods=[(method, method.capitalize()) for method in METHODS],
        test_corners=[("", "Choose"), *((corner, f"{corner.capitalize()} corner") for corner in SIGNS)],
        store_sizes=[SizeGroup(words, sizes) for words, sizes in by_thickness.items()],
        purposes=[(name, purpose.words) for name, purpose in PURPOSES.items()],
        tolerances=[(name, tolerance.words) for name, tolerance in TOLERANCES.items()],
        limits=[OwnField(name, words, hint, usual[limit]) for name, (limit, words, hint) in _LIMITS.items()],
        by_hand=[OwnField(name, words, hint, examples[name]) for name, (words, hint) in _BY_HAND.items()],
        bow_width=length_in(USUAL_WIDTH_MM, units).removesuffix(f" {units}"),
        anchors=frozenset(
            [
                *(field.name for field in (*TEXT_FIELDS, *PAGE_FIELDS, *FILE_FIELDS)),
                *(f"shot_{field.name}" for field in FILE_FIELDS),
                *("name", "price", "note"),
            ]
        ),
    )
