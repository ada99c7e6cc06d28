"""Boards that bend sideways: how much of a straight bow's width the bend takes."""

from typing import Final

from service.board.phrase import length_text
from service.judge.record_side import Reason
from service.judge.section import Search
from service.language import say

WORTH_MM: Final = 3.0
"""Less than a saw cut takes is not worth a word. Common practice, no source."""


def crook_note(found: Search, start: int) -> list[Reason]:
    """Say how much narrower a bow comes out of a section because the board bends sideways there.

    Parameters
    ----------
    found
        The board's search.
    start
        Number of the section's start.

    Returns
    -------
    list of Reason
        One; none when the bend takes next to nothing.
    """
    lost_mm = float(found.lay.lost_mm[start])
    if lost_mm < WORTH_MM:
        return []
    start_mm = float(found.slopes.lattice.starts_mm[start])
    text = say(
        "The board bends sideways inside the section (crook): a straight bow comes out up to {lost} narrower than "
        "{width}. Plan a narrower bow, or take a straighter board.",
        lost=length_text(lost_mm),
        width=length_text(found.width_mm),
    )
    return [Reason(code="crook", text=text, position_mm=round(start_mm + 0.5 * found.slopes.lattice.section_mm, 1))]


def too_crooked(found: Search) -> Reason:
    """Say that a straight bow of this width lies nowhere in the board."""
    text = say(
        "The board bends sideways (crook) so far that a straight bow {width} wide would lose more than half its width. "
        "Take a straighter board, or a shorter or narrower bow.",
        width=length_text(found.width_mm),
    )
    return Reason(code="too_crooked", text=text)
