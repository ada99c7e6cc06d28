"""A side to look at from close: its photo alone, kept in one long row, and what was found drawn over it in layers."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element, tostring

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from service.judge.record import Answer
from service.judge.record_side import Side
from service.lengths import Units
from service.photo.types import Strip
from service.show.marks import (
    GRAIN,
    INK,
    PAPER,
    grain_lines,
    grain_path,
    grey_of,
    jpeg_address,
    put,
    put_ruler,
    put_runoffs,
    put_stretches,
)
from service.show.rows import MARGIN, MARK_ROOM, RULER_HEIGHT, Row
from service.show.section_marks import put_section
from service.sides import BoardSize

LAYERS: Final = ("photo", "lines", "runoffs", "section", "finds")
"""What can be shown or hidden, by the names that the drawing's parts bear."""

MOST_BYTES: Final = 140_000
"""Of one side's photo as it is sent; on one bar of signal that is some seconds. Common practice, no source."""

FINEST_PX_PER_MM: Final = 4.0
"""Finer than this, 100 px an inch, wood shows pores but no more of its grain."""

QUALITIES: Final = (80, 72, 64, 56, 48)
SMALLER: Final = 0.8
LABEL_EVERY: Final[dict[Units, int]] = {"in": 2, "mm": 2}
WOOD: Final = "#d9d5cb"
SIDE_PX: Final = 120.0
SCALES: Final = (1.5, 5.0)
"""Least and most CSS pixels a millimetre, before anybody goes nearer: so much that a side is about 120 high."""

LIGHT_MM: Final = 100.0
"""Light that falls off over less than this may as well be wood."""

LEAST_ROUGH: Final = 0.01
"""Least spread of brightness, 0 to 1, that is taken for wood and not for noise."""

POINT_MM: Final = 38.0
"""Least distance between two points of a drawn grain line, which bends little between them."""


def close_name(side: str) -> str:
    """Name the picture that `close_photo` makes of a side."""
    return f"close_{side}"


def close_photo(strips: Sequence[Strip], length_mm: float, across_mm: float) -> str:
    """Put a side's photo, straightened, into one row true to scale, small enough to be sent.

    Parameters
    ----------
    strips
        The side straightened: one strip of each of its photos.
    length_mm, across_mm
        The side.

    Returns
    -------
    str
        An SVG document of photos alone, whose unit is a millimetre, of at most `MOST_BYTES`.
    """
    scale = min(FINEST_PX_PER_MM, max(1.0 / strip.mm_per_px for strip in strips))
    while True:
        for quality in QUALITIES:
            drawing = _photo(strips, length_mm, across_mm, scale, quality)
            if len(drawing) <= MOST_BYTES:
                return drawing
        scale *= SMALLER


def _photo(strips: Sequence[Strip], length_mm: float, across_mm: float, px_per_mm: float, quality: int) -> str:
    box = f"0 0 {length_mm:.2f} {across_mm:.2f}"
    svg = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": box, "preserveAspectRatio": "none"})
    for strip in strips:
        columns = max(1, round((strip.to_mm - strip.from_mm) * px_per_mm))
        grey = grey_of(_evenly_lit(strip), columns, max(1, round(across_mm * px_per_mm)))
        place: dict[str, str | float] = {"x": strip.from_mm, "y": 0.0, "width": strip.to_mm - strip.from_mm}
        address = jpeg_address(grey, quality)
        put(svg, "image", None, **place, height=f"{across_mm:.2f}", preserveAspectRatio="none", href=address)
    return tostring(svg, encoding="unicode")


def _evenly_lit(strip: Strip) -> NDArray[np.float32]:
    """Take out how the light falls off along a strip, so that grain shows as well at its dark end."""
    image = strip.image
    reach = LIGHT_MM / strip.mm_per_px
    slow = gaussian_filter1d(image.mean(axis=0), reach, mode="nearest")
    rough = np.sqrt(gaussian_filter1d(image.var(axis=0), reach, mode="nearest"))
    even: NDArray[np.float32] = ((image - slow) / np.maximum(rough, LEAST_ROUGH)).astype(np.float32)
    return even


@dataclass(frozen=True)
class CloseLook:
    """The drawing of a side for its page, and where its places lie in it.

    Attributes
    ----------
    drawing
        An SVG element; each layer is a group that names it in `data-layer`.
    width, height
        Of the drawing, CSS pixels before anybody goes nearer.
    left, top
        Where the marked end and the upper long corner lie in it.
    scale
        Its units for each millimetre, along and across.
    """

    drawing: str
    width: float
    height: float
    left: float
    top: float
    scale: float


def close_look(side: Side, answer: Answer, units: Units, photo: str, words: str, cross_mm: float) -> CloseLook:
    """Draw what was found on a side over its photo, in one row true to scale.

    Parameters
    ----------
    side, answer
        The side, and the answer that tells of it.
    units
        Units of the ruler.
    photo
        Address of what `close_photo` made; empty when there is none.
    words
        What the drawing shows, for those who cannot see it.
    cross_mm
        Where a line across the side is drawn: the place whose numbers are told.
    """
    read, board = answer.sides[side], answer.board
    across_mm = BoardSize(board.length_mm, board.width_mm, board.thickness_mm).across_mm(side)
    scale = float(np.clip(SIDE_PX / across_mm, *SCALES))
    top, high = RULER_HEIGHT + MARK_ROOM, across_mm * scale
    row = Row(0.0, board.length_mm, top, high, scale, across_mm)
    width, height = board.length_mm * scale + 2 * MARGIN, top + high + MARK_ROOM + 8.0
    sizes = {"viewBox": f"0 0 {width:.1f} {height:.1f}", "width": f"{width:.0f}", "height": f"{height:.0f}"}
    svg = Element("svg", {**sizes, "role": "img", "aria-label": words, "font-family": "system-ui, sans-serif"})
    _put_hatch(svg)
    put(svg, "rect", x=0.0, y=0.0, width=width, height=height, fill=PAPER)
    layers = {name: put(svg, "g", data_layer=name) for name in ("wood", "photo", *LAYERS[1:], "cross")}
    box = {"x": MARGIN, "y": top, "width": board.length_mm * scale, "height": high}
    put(layers["wood"], "rect", None, **box, fill=WOOD)
    if photo:
        put(layers["photo"], "image", None, **box, preserveAspectRatio="none", href=photo)
    put_ruler(layers["wood"], row, units, LABEL_EVERY[units])
    _put_lines(layers["lines"], row, answer, side)
    put_section(layers["section"], row, side, answer, units)
    put_stretches(layers["finds"], row, read, "hatch-close")
    put_runoffs(layers["runoffs"], row, read, side)
    put(layers["cross"], "rect", None, **box, fill="none", stroke=INK)
    at = row.along(cross_mm)
    put(layers["cross"], "line", x1=at, x2=at, y1=top - 8, y2=top + high + 8, stroke=INK, stroke_width="2", id="cross")
    return CloseLook(tostring(svg, encoding="unicode"), width, height, MARGIN, top, scale)


def _put_hatch(svg: Element) -> None:
    """Define the hatching of unread stretches."""
    pattern = put(put(svg, "defs"), "pattern", id="hatch-close", width=8.0, height=8.0, patternUnits="userSpaceOnUse")
    put(pattern, "rect", width=8.0, height=8.0, fill=PAPER, fill_opacity="0.75")
    put(pattern, "path", d="M0 8L8 0M-2 2L2 -2M6 10L10 6", stroke=INK, stroke_width="1.4")


def _put_lines(layer: Element, row: Row, answer: Answer, side: Side) -> None:
    """Draw the grain lines, dark with a light rim; the path is written once, for the page carries it."""
    read = answer.sides[side]
    spacing_mm = float(np.median(np.diff(read.positions_mm))) if len(read.positions_mm) > 1 else POINT_MM
    step = max(1, round(POINT_MM / spacing_mm))
    lines = []
    for along_mm, above_mm in grain_lines(read, row.to_mm, row.across_mm):
        kept = np.unique([*range(0, along_mm.size, step), along_mm.size - 1])
        lines.append((along_mm[kept], above_mm[kept]))
    clip = put(layer, "clipPath", id="side-close")
    put(clip, "rect", x=MARGIN, y=row.top, width=(row.to_mm - row.from_mm) * row.scale, height=row.height)
    group = put(layer, "g", fill="none", clip_path="url(#side-close)")
    put(put(group, "defs"), "path", d=grain_path(row, lines), id="lines-close")
    put(group, "use", href="#lines-close", stroke=PAPER, stroke_width="3.2", stroke_opacity="0.65")
    put(group, "use", href="#lines-close", stroke=GRAIN, stroke_width="1.4")
