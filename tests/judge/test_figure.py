"""What is said where figure and fibre part."""

from dataclasses import replace

import numpy as np

from service.board.types import BoardReading
from service.judge.figure import figure_notes
from tests.judge.made import make_reading


def codes(reading: BoardReading) -> list[str]:
    """Return the codes of what is said."""
    return [note.code for note in figure_notes(reading)]


def change(reading: BoardReading, side: str, **changes: object) -> BoardReading:
    """Change one side."""
    return replace(reading, sides={**reading.sides, side: replace(reading.sides[side], **changes)})  # type: ignore[arg-type]


def test_lines_along_the_fibre_need_no_word() -> None:
    """Where lines and fibre agree nothing is said."""
    assert codes(make_reading({"face_1": 0.03})) == []


def test_cathedral_figure_over_straight_fibre_is_named() -> None:
    """V shapes over a third of a face are told from the fibre under them, seen or not."""
    reading = make_reading({"face_1": 0.02})
    vees = np.arange(reading.positions_mm.size) % 3 == 0
    seen = change(reading, "face_1", cathedral=vees)
    unseen = replace(seen, spiral_seen=False)

    assert codes(seen) == codes(unseen) == ["cathedral"]
    assert "1 in 50" in figure_notes(seen)[0].text
    assert "tell nothing of the fibre" in figure_notes(unseen)[0].text


def test_straight_rings_over_sloped_fibre_are_named() -> None:
    """An edge whose ring lines run level over fibre at 1 in 20 hides spiral grain; unseen fibre is not spoken of."""
    reading = make_reading({"edge_1": 0.05})
    level = change(reading, "edge_1", line_deg=np.zeros(reading.positions_mm.shape))

    assert codes(level) == ["fibre_off_rings"]
    assert "edge 1" in figure_notes(level)[0].text
    assert "1 in 20" in figure_notes(level)[0].text
    assert codes(replace(level, spiral_seen=False)) == []
