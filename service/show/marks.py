"""What is drawn over a row of a side: photo, ruler, grain lines, run-offs, unread stretches, knots."""

import base64
from collections.abc import Sequence
from typing import Final
from xml.etree.ElementTree import Element, SubElement

import cv2
import numpy as np
from numpy.typing import NDArray

from service.grain.follow import LINES, line_rise
from service.judge.record_side import Knot, SideAnswer
from service.language import say
from service.lengths import Units, length_in
from service.photo.types import Strip
from service.show.rows import MARGIN, MARK_ROOM, Row
from service.sides import side_above

Float = NDArray[np.float64]

INK: Final = "#14181c"
PAPER: Final = "#fbfaf6"
GRAIN: Final = "#0a3a82"
ALARM: Final = "#9c1006"

UNREAD_ROOM: Final = 56.0
KNOT_ROOM: Final = 40.0
HAND_KNOT_ROOM: Final = 90.0
IMAGE_COLUMNS: Final = 720
JPEG_QUALITY: Final = 80

TICK_MM: Final[dict[Units, float]] = {"in": 25.4, "mm": 20.0}
LABEL_EVERY: Final[dict[Units, int]] = {"in": 4, "mm": 10}


def put(parent: Element, tag: str, text: str | None = None, **attributes: str | float) -> Element:
    """Add an element; numbers are written to a tenth, underscores in names become hyphens."""
    written = {
        name.rstrip("_").replace("_", "-"): value if isinstance(value, str) else f"{value:.1f}".removesuffix(".0")
        for name, value in attributes.items()
    }
    element = SubElement(parent, tag, written)
    element.text = text
    return element


def put_text(parent: Element, text: str, across: float, down: float, **attributes: str | float) -> None:
    """Add a text with a rim of paper colour, so that it reads over wood as well."""
    rim: dict[str, str | float] = {
        "stroke": PAPER,
        "stroke_width": 3.0,
        "paint_order": "stroke",
        "fill": INK,
        "font_size": 12.0,
    }
    put(parent, "text", text, x=across, y=down, **{**rim, **attributes})


def put_image(parent: Element, row: Row, strips: Sequence[Strip]) -> None:
    """Draw what the strips show of the row, later ones over earlier ones, and say where there is no photo."""
    put(
        parent,
        "rect",
        x=row.along(row.from_mm),
        y=row.top,
        width=(row.to_mm - row.from_mm) * row.scale,
        height=row.height,
        fill="#d9d5cb",
    )
    cuts = [(strip, row.cut(strip.from_mm, strip.to_mm)) for strip in strips]
    for strip, seen in cuts:
        if seen is not None:
            _put_strip(parent, row, strip, seen)
    if all(seen is None for _, seen in cuts):
        put_text(parent, say("not in any photo"), row.along(row.from_mm) + 4, row.top + 0.5 * row.height)


def _put_strip(parent: Element, row: Row, strip: Strip, seen: tuple[float, float]) -> None:
    """Draw the stretch of the row that one strip shows, as a small JPEG stretched to its place."""
    first, last = (round((place_mm - strip.from_mm) / strip.mm_per_px) for place_mm in seen)
    piece = strip.image[:, min(first, strip.image.shape[1] - 1) : max(last, first + 1)]
    columns = min(IMAGE_COLUMNS, piece.shape[1])
    rows = max(1, min(piece.shape[0], round(columns * row.height / ((seen[1] - seen[0]) * row.scale))))
    data = jpeg_address(grey_of(piece, columns, rows))
    put(
        parent,
        "image",
        x=row.along(seen[0]),
        y=row.top,
        width=(seen[1] - seen[0]) * row.scale,
        height=row.height,
        preserveAspectRatio="none",
        href=data,
    )


def grey_of(piece: NDArray[np.float32], columns: int, rows: int) -> NDArray[np.uint8]:
    """Bring a piece of a strip to a size, its own darkest and lightest wood becoming dark and light.

    Parameters
    ----------
    piece
        Shape (rows, columns) of the strip, 0 to 1. Grain is faint beside the light of a whole photo.
    columns, rows
        The size wanted, pixels.

    Returns
    -------
    ndarray
        uint8, shape (rows, columns).

    >>> grey_of(np.array([[0.4, 0.6]], dtype=np.float32), 2, 1).tolist()
    [[24, 243]]
    """
    small = cv2.resize(piece, (columns, rows), interpolation=cv2.INTER_AREA)
    dark, light = np.percentile(small, (0.5, 99.5))
    shade = 0.1 + 0.85 * (small - dark) / max(float(light - dark), 0.05)
    grey: NDArray[np.uint8] = (255.0 * np.clip(shade, 0.0, 1.0)).astype(np.uint8)
    return grey


def jpeg_address(grey: NDArray[np.uint8], quality: int = JPEG_QUALITY) -> str:
    """Code a grey picture as a JPEG that stands in its own address (RFC 2397)."""
    _, coded = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return f"data:image/jpeg;base64,{base64.b64encode(coded.tobytes()).decode('ascii')}"


def put_ruler(parent: Element, row: Row, units: Units, every: int = 0) -> None:
    """Draw a ruler above the row, counted from the marked end; `every` so many ticks has its number."""
    tick_mm, every = TICK_MM[units], every or LABEL_EVERY[units]
    base = row.top - MARK_ROOM
    put(parent, "line", x1=row.along(row.from_mm), x2=row.along(row.to_mm), y1=base, y2=base, stroke=INK)
    for number in range(int(np.ceil(row.from_mm / tick_mm - 1e-9)), int(row.to_mm / tick_mm + 1e-9) + 1):
        across = row.along(number * tick_mm)
        labelled = number % every == 0
        put(parent, "line", x1=across, x2=across, y1=base - (8 if labelled else 4), y2=base, stroke=INK)
        if labelled:
            anchor = "start" if number * tick_mm - row.from_mm < tick_mm else "middle"
            anchor = "end" if row.to_mm - number * tick_mm < tick_mm else anchor
            put_text(parent, length_in(number * tick_mm, units), across, base - 11, text_anchor=anchor)


def grain_lines(side: SideAnswer, length_mm: float, across_mm: float) -> list[tuple[Float, Float]]:
    """Follow the grain over the whole side: nine lines at any place, tenths of the width apart.

    The lines that cross the marked end at tenths of the width are followed; where one leaves the side
    the next of the same spacing comes in over the other corner.

    Returns
    -------
    list of (positions_mm, above_mm)
        Each a line's places along and above the lower corner, running off the side at both of its ends.
    """
    if not side.positions_mm:
        return []
    positions_mm = np.asarray(side.positions_mm, dtype=np.float64)
    angles = np.asarray([np.nan if angle is None else angle for angle in side.angle_deg], dtype=np.float64)
    slope = np.tan(np.radians(angles))
    spacing_mm = across_mm / (LINES + 1)
    drawn = []
    start_mm = 0.0
    while start_mm < length_mm:
        places_mm, rise_mm, _ = line_rise(positions_mm, slope, start_mm, length_mm)
        if places_mm.size < 2:
            later = positions_mm[(positions_mm > start_mm) & np.isfinite(slope)]
            if not later.size:
                break
            start_mm = float(later[0])
            continue
        lowest = int(np.floor((0.0 - rise_mm.max()) / spacing_mm))
        highest = int(np.ceil((across_mm - rise_mm.min()) / spacing_mm))
        drawn += [(places_mm, rise_mm + number * spacing_mm) for number in range(lowest, highest + 1) if number % 10]
        start_mm = float(places_mm[-1]) + 1e-3
    return drawn


def put_grain(parent: Element, row: Row, lines: list[tuple[Float, Float]], clip: str) -> None:
    """Draw the part of the grain lines that the row shows, dark with a light rim."""
    edge = put(parent, "clipPath", id=clip)
    width = (row.to_mm - row.from_mm) * row.scale
    put(edge, "rect", x=row.along(row.from_mm), y=row.top, width=width, height=row.height)
    group = put(parent, "g", fill="none", clip_path=f"url(#{clip})")
    path = grain_path(row, lines)
    put(group, "path", d=path, stroke=PAPER, stroke_width="2.6", stroke_opacity="0.65")
    put(group, "path", d=path, stroke=GRAIN, stroke_width="1.1")


def grain_path(row: Row, lines: list[tuple[Float, Float]]) -> str:
    """Write the part of the grain lines that the row shows as one path."""
    paths = []
    for positions_mm, above_mm in lines:
        near = np.flatnonzero(
            (positions_mm >= row.from_mm - 30)
            & (positions_mm <= row.to_mm + 30)
            & (above_mm > -row.across_mm)
            & (above_mm < 2 * row.across_mm)
        )
        if near.size > 1 and above_mm[near].max() > 0 and above_mm[near].min() < row.across_mm:
            places = (f"{row.along(positions_mm[at]):.1f} {row.down(above_mm[at]):.1f}" for at in near)
            paths.append("M" + "L".join(places))
    return "".join(paths)


def put_runoffs(parent: Element, row: Row, side: SideAnswer, name: str) -> None:
    """Mark where lines leave, with an arrow over the corner and the line's number beyond it."""
    for off in side.runoffs:
        if not row.holds(off.position_mm):
            continue
        upper = off.over == side_above(name)
        across, corner, way = row.along(off.position_mm), row.top if upper else row.top + row.height, -1 if upper else 1
        arrow = f"M{across - 4:.1f} {corner - 2 * way:.1f}h8l-4 {6 * way}z"
        put(parent, "path", d=arrow, fill=ALARM, stroke=PAPER, stroke_width="0.7", class_="runoff")
        put_text(parent, str(off.line), across, corner + (-6 if upper else 15), text_anchor="middle", fill=ALARM)


def put_stretches(parent: Element, row: Row, side: SideAnswer, hatch: str) -> None:
    """Hatch what could not be read and box the knots, each with its word where there is room."""
    for part in side.pattern:
        seen = row.cut(part.from_mm, part.to_mm)
        if part.kind == "unreadable" and seen is not None:
            _put_unread(parent, row, seen, hatch)
    for knot in side.knots:
        seen = row.cut(knot.from_mm, knot.to_mm)
        if seen is not None:
            _put_knot(parent, row, seen, knot)


def _put_unread(parent: Element, row: Row, seen: tuple[float, float], hatch: str) -> None:
    """Hatch a stretch that could not be read."""
    across, width = row.along(seen[0]), (seen[1] - seen[0]) * row.scale
    put(
        parent,
        "rect",
        x=across,
        y=row.top,
        width=width,
        height=row.height,
        fill=f"url(#{hatch})",
        stroke=INK,
        class_="unread",
    )
    if width > UNREAD_ROOM:
        put_text(parent, say("not read"), across + 2, row.top + 0.5 * row.height)


def _put_knot(parent: Element, row: Row, seen: tuple[float, float], knot: Knot) -> None:
    """Box a knot and name it, on its right or, at the end of the row, on its left; dashed if pointed at by hand."""
    left, right = row.along(seen[0]) - 2, row.along(seen[1]) + 2
    top, bottom = row.down(knot.across_to_mm) - 2, row.down(knot.across_from_mm) + 2
    box = {"fill": "none", "stroke": ALARM, "stroke_width": "2.2", "class_": "knot"}
    box |= {"stroke_dasharray": "5 3"} if knot.by_hand else {}
    put(parent, "rect", x=left, y=top, width=right - left, height=bottom - top, **box)
    room = HAND_KNOT_ROOM if knot.by_hand else KNOT_ROOM
    beside, anchor = (right + 3, "start") if right + room < row.along(row.to_mm) + MARGIN else (left - 3, "end")
    down = min(max(top + 12, row.top + 12), row.top + row.height - 3)
    word = say("knot, by hand") if knot.by_hand else say("knot")
    put_text(parent, word, beside, down, fill=ALARM, text_anchor=anchor)
