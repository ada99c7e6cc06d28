"""The picture of the margin: what the grain leaves of strength along the bow, above how hard the bow works there."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element, tostring

import numpy as np

from service.judge.record import Answer, Margin
from service.language import mark, say
from service.lengths import Units, length_in
from service.show.cut_words import share_text
from service.show.marks import ALARM, GRAIN, INK, PAPER, put, put_text
from service.show.rows import MARGIN, PICTURE_WIDTH, TEXT_HEIGHT

TITLE: Final = mark("Strength and work along the bow")
LEFT: Final = 46.0
"""Room for the numbers at the left of both curves."""

STRENGTH_TOP: Final = 86.0
WORK_TOP: Final = 244.0
CURVE_HEIGHT: Final = 78.0
RULER_TOP: Final = 352.0
BOTTOM: Final = 424.0
WORK_FILL: Final = "#e6dcc6"

WORDS_REACH: Final = 112.0
"""Half the width of the words under the least place, with a margin."""

TICK_MM: Final[dict[Units, float]] = {"in": 101.6, "mm": 100.0}
LABEL_EVERY: Final[dict[Units, int]] = {"in": 3, "mm": 4}
READ_AS: Final = (
    mark("Dashed: as measured, by the mildest source."),
    mark("Full line: with the error, by the strictest source."),
)


@dataclass(frozen=True)
class _Scale:
    """Where positions and shares lie in the picture."""

    from_mm: float
    to_mm: float

    def along(self, position_mm: float) -> float:
        share = (position_mm - self.from_mm) / (self.to_mm - self.from_mm)
        return LEFT + share * (PICTURE_WIDTH - MARGIN - LEFT)

    def points(self, places_mm: Sequence[float], shares: Sequence[float], top: float) -> list[str]:
        return [f"{self.along(at):.1f} {_down(share, top):.1f}" for at, share in zip(places_mm, shares, strict=True)]


def _down(share: float, top: float) -> float:
    """Return where a share lies below the top of its curve, the top being the whole."""
    return top + (1.0 - share) * CURVE_HEIGHT


def margin_words(margin: Margin, units: Units) -> str:
    """Say in words what the picture shows; the margin's own text goes with it."""
    at = int(np.argmin(np.abs(np.asarray(margin.positions_mm) - margin.least_position_mm)))
    return say(
        "From tip to tip of the bow: what the grain leaves of straight-grained strength in tension, above how hard the "
        "bow works. Least is to spare at {place}, where {left} of strength is left and the bow works at {work} of its "
        "peak.",
        place=length_in(margin.least_position_mm, units),
        left=share_text(margin.strength_low[at], margin.strength_high[at]),
        work=f"{margin.strain_share[at]:.0%}",
    )


def margin_picture(answer: Answer, units: Units = "in") -> str | None:
    """Draw what the grain leaves of strength along the bow, and below it how hard the bow works.

    Parameters
    ----------
    answer
        The whole answer.
    units
        Units of the ruler and the words.

    Returns
    -------
    str or None
        An SVG document, 390 units wide like the pictures of the sides; None when the margin is not known.
    """
    margin = answer.margin
    if margin is None or len(margin.positions_mm) < 2:
        return None
    svg = Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {PICTURE_WIDTH:.0f} {BOTTOM:.0f}",
            "width": "100%",
            "role": "img",
            "aria-labelledby": "title-margin desc-margin",
            "font-family": "system-ui, sans-serif",
        },
    )
    put(svg, "title", say(TITLE), id="title-margin")
    put(svg, "desc", f"{margin_words(margin, units)} {margin.text}", id="desc-margin")
    put(svg, "rect", x=0.0, y=0.0, width=PICTURE_WIDTH, height=BOTTOM, fill=PAPER)
    put_text(svg, say(TITLE), MARGIN, 20.0, font_size=16.0, font_weight="bold")
    put_text(svg, say("The bow from its end nearer the marked end of the board."), MARGIN, 38.0)
    scale = _Scale(margin.positions_mm[0], margin.positions_mm[-1])
    _put_strength(svg, margin, scale)
    _put_work(svg, margin, scale)
    _put_places(svg, scale, units)
    _put_least(svg, margin, scale, units)
    return tostring(svg, encoding="unicode")


def _put_axis(svg: Element, heading: str, top: float) -> None:
    """Draw the heading of a curve and its lines at the whole, the half and nothing."""
    put_text(svg, heading, MARGIN, top - 16.0, font_weight="bold")
    for share in (1.0, 0.5, 0.0):
        down = _down(share, top)
        put(svg, "line", x1=LEFT, x2=PICTURE_WIDTH - MARGIN, y1=down, y2=down, stroke=INK, stroke_width="0.5")
        put_text(svg, f"{share:.0%}", LEFT - 5.0, down + 4.0, text_anchor="end")


def _put_strength(svg: Element, margin: Margin, scale: _Scale) -> None:
    """Draw the band between what surely is left and what is left as measured."""
    _put_axis(svg, say("What the grain leaves of the strength in tension"), STRENGTH_TOP)
    most = scale.points(margin.positions_mm, margin.strength_high, STRENGTH_TOP)
    least = scale.points(margin.positions_mm, margin.strength_low, STRENGTH_TOP)
    band = f"M{'L'.join([*most, *reversed(least)])}z"
    put(svg, "path", d=band, fill=GRAIN, fill_opacity="0.18", class_="band")
    put(svg, "path", d=f"M{'L'.join(most)}", fill="none", stroke=GRAIN, stroke_width="1.2", stroke_dasharray="5 3")
    put(svg, "path", d=f"M{'L'.join(least)}", fill="none", stroke=GRAIN, stroke_width="2.4", class_="least-left")
    below = _down(0.0, STRENGTH_TOP)
    for line, words in enumerate(READ_AS):
        put_text(svg, say(words), LEFT, below + 18.0 + line * TEXT_HEIGHT)


def _put_work(svg: Element, margin: Margin, scale: _Scale) -> None:
    """Draw how hard the bow works as a filled hill over each limb."""
    _put_axis(svg, say("How hard the bow works, of its peak"), WORK_TOP)
    hill = scale.points(margin.positions_mm, margin.strain_share, WORK_TOP)
    foot = [f"{scale.along(at):.1f} {_down(0.0, WORK_TOP):.1f}" for at in (scale.to_mm, scale.from_mm)]
    put(svg, "path", d=f"M{'L'.join([*hill, *foot])}z", fill=WORK_FILL, class_="work")
    put(svg, "path", d=f"M{'L'.join(hill)}", fill="none", stroke=INK, stroke_width="2")
    below = _down(0.0, WORK_TOP) + 16.0
    half_mm = 0.5 * (scale.to_mm - scale.from_mm)
    for word, place_mm, anchor in (
        (say("tip"), scale.from_mm, "start"),
        (say("limb"), scale.from_mm + 0.5 * half_mm, "middle"),
        (say("handle"), scale.from_mm + half_mm, "middle"),
        (say("limb"), scale.from_mm + 1.5 * half_mm, "middle"),
        (say("tip"), scale.to_mm, "end"),
    ):
        put_text(svg, word, scale.along(place_mm), below, text_anchor=anchor)


def _put_places(svg: Element, scale: _Scale, units: Units) -> None:
    """Draw the ruler, counted from the board's marked end."""
    tick_mm = TICK_MM[units]
    put(svg, "line", x1=LEFT, x2=PICTURE_WIDTH - MARGIN, y1=RULER_TOP, y2=RULER_TOP, stroke=INK)
    for number in range(int(np.ceil(scale.from_mm / tick_mm - 1e-9)), int(scale.to_mm / tick_mm + 1e-9) + 1):
        across, labelled = scale.along(number * tick_mm), number % LABEL_EVERY[units] == 0
        put(svg, "line", x1=across, x2=across, y1=RULER_TOP, y2=RULER_TOP + (8 if labelled else 4), stroke=INK)
        if labelled:
            anchor = "end" if across > PICTURE_WIDTH - 30 else "middle"
            put_text(svg, length_in(number * tick_mm, units), across, RULER_TOP + 21.0, text_anchor=anchor)
    put_text(svg, say("from the board's marked end"), PICTURE_WIDTH - MARGIN, RULER_TOP + 38.0, text_anchor="end")


def _put_least(svg: Element, margin: Margin, scale: _Scale, units: Units) -> None:
    """Mark where least is to spare."""
    across = scale.along(margin.least_position_mm)
    line = {"stroke": ALARM, "stroke_width": "1.6", "stroke_dasharray": "2 3", "class_": "least"}
    for top, bottom in (
        (STRENGTH_TOP, _down(0.0, STRENGTH_TOP)),
        (WORK_TOP, _down(0.0, WORK_TOP)),
        (RULER_TOP, RULER_TOP + 8.0),
    ):
        put(svg, "line", x1=across, x2=across, y1=top, y2=bottom, **line)
    words = say("least to spare, at {place}", place=length_in(margin.least_position_mm, units))
    middle = min(max(across, WORDS_REACH), PICTURE_WIDTH - WORDS_REACH)
    put_text(svg, words, middle, RULER_TOP + 62.0, text_anchor="middle", fill=ALARM, font_weight="bold")
