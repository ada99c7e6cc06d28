"""What the form shows, as plain values; the template only lays it out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service.asked import FILE_FIELDS, PAGE_FIELDS, TEXT_FIELDS
from service.board.entered import METHODS
from service.board.phrase import one_in_text, side_text, side_title
from service.errors import StavesightError
from service.judge.limits import limits_told
from service.judge.purposes import PURPOSES, TOLERANCES, UNBACKED, USUAL
from service.judge.record import LimitTold
from service.judge.shape import USUAL_WIDTH_MM
from service.language import mark, say
from service.lengths import Units, number_in
from service.line_tests import PAGE_PARTS, SIGNS
from service.settings import Settings
from service.show.limit_words import limit_text
from service.sides import FACES, SIDES
from service.sizes import STORE_SIZES, StoreSize

_SIDE_HINTS: Final = {
    "face_1": mark("A wide side. Choose either, and call it face 1."),
    "edge_1": mark("The narrow side that the roll brings up."),
    "face_2": mark("The other wide side."),
    "edge_2": mark("The other narrow side."),
}

_HEADINGS: Final = {"busy": mark("All readers are at work"), "unfinished": mark("The reading stopped")}
_ANOTHER_LOOK: Final = mark("Something needs another look")

_METHODS: Final = {"ink": mark("Ink"), "scribe": mark("Scribe")}
_CORNERS: Final = {"upper": mark("Upper corner"), "lower": mark("Lower corner")}

_CHOSEN: Final = {"purpose": UNBACKED, "tolerance": USUAL}

_LIMITS: Final = {
    "back_limit": ("back_slope", mark("Steepest grain on the back"), mark("Such as 1 in 18, 5 % or 3 deg.")),
    "belly_limit": ("belly_slope", mark("Steepest grain on the belly"), mark("Written the same way.")),
    "mean_length": ("mean_length_mm", mark("Slopes are averaged over"), mark("So that a short wave does not decide.")),
    "knot_margin": ("knot_margin_mm", mark("Sound wood beside a knot"), mark("Between a knot and an end of the bow.")),
    "end_trim": ("end_trim_mm", mark("Sawn off at either end"), mark("Before anything else is cut.")),
    "kerf": ("kerf_mm", mark("Saw cut between two bows"), mark("What the saw turns to dust.")),
}

_BY_HAND: Final = {
    "knot": (
        mark("Knots you see"),
        mark(
            "Side and place from the marked end; across, if you like, counted up from the lower long corner. Several "
            "with a semicolon between them."
        ),
    ),
    "no_knot": (
        mark("No knot after all"),
        mark("Where an answer told of a knot that you cannot find. Written the same way."),
    ),
    "end_check": (
        mark("Cracks in the ends"),
        mark("Which end, and how far the crack (check) reaches into the board."),
    ),
}


@dataclass(frozen=True)
class SizeGroup:
    """Store sizes under one heading of the list."""

    words: str
    sizes: Sequence[StoreSize]


@dataclass(frozen=True)
class SideField:
    """One side's photo field, and the words of the one for its close-ups."""

    name: str
    words: str
    hint: str
    wide: bool
    close: str


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


def _typed_limit(limit: LimitTold, units: Units) -> str:
    """Write a usual limit as it would be typed."""
    slope = limit.unit == "rise over length"
    return one_in_text(limit.value) if slope else limit_text(limit.value, limit.unit, units)


def _side_field(side: str) -> SideField:
    close = say("Close-up of {side}", side=side_text(side))
    return SideField(side, side_title(side), say(_SIDE_HINTS[side]), side in FACES, close)


def start_page(settings: Settings, typed: Mapping[str, str], refused: StavesightError | None = None) -> StartPage:
    """Show the form."""
    units: Units = "mm" if typed.get("units") == "mm" else "in"
    by_thickness = {
        say("Softwood sizes, and hardwood sold by them"): [size for size in STORE_SIZES.values() if size.width_mm],
        say("Hardwood quarters, any width"): [size for size in STORE_SIZES.values() if not size.width_mm],
    }
    examples = {field.name: field.example for field in TEXT_FIELDS}
    usual = {limit.name: _typed_limit(limit, units) for limit in limits_told().items}
    return StartPage(
        typed=typed,
        units=units,
        refusal=refused.text if refused else None,
        refusal_heading=say(_HEADINGS.get(refused.code, _ANOTHER_LOOK)) if refused else "",
        refused_field=refused.field if refused else None,
        photo_bytes=settings.photo_bytes,
        request_bytes=settings.request_bytes,
        sides=[_side_field(side) for side in SIDES],
        test_sides=[("", say("No test")), *((side, side_title(side)) for side in SIDES)],
        test_methods=[(method, say(_METHODS[method])) for method in METHODS],
        test_corners=[("", say("Choose")), *((corner, say(_CORNERS[corner])) for corner in SIGNS)],
        store_sizes=[SizeGroup(words, sizes) for words, sizes in by_thickness.items()],
        purposes=[(name, say(purpose.words)) for name, purpose in PURPOSES.items()],
        tolerances=[(name, say(tolerance.words)) for name, tolerance in TOLERANCES.items()],
        limits=[OwnField(name, say(words), say(hint), usual[limit]) for name, (limit, words, hint) in _LIMITS.items()],
        by_hand=[OwnField(name, say(words), say(hint), examples[name]) for name, (words, hint) in _BY_HAND.items()],
        bow_width=number_in(USUAL_WIDTH_MM, units),
        anchors=frozenset(
            [
                *(field.name for field in (*TEXT_FIELDS, *PAGE_FIELDS, *FILE_FIELDS)),
                *(f"shot_{field.name}" for field in FILE_FIELDS),
                *("name", "price", "note"),
            ]
        ),
    )
