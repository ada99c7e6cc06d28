"""Lengths in words: as a tape measure shows them, the person's own units first."""

import re
from dataclasses import replace
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.asked import read_texts
from service.demo import demo_boards
from service.errors import BadInput
from service.lengths import inches_text, length_in
from service.reading import read_board
from service.settings import find_folder

INCHES_FIRST: Final = re.compile(r"\d in \(\d+ mm\)")
MILLIMETRES_FIRST: Final = re.compile(r"\d mm \(\S+ in\)")


@pytest.mark.parametrize(
    ("length_mm", "told"),
    [(19.05, "3/4 in"), (38.1, "1-1/2 in"), (1727.2, "68 in"), (26.9875, "1-1/16 in"), (0.0, "0 in"), (25.3, "1 in")],
)
def test_inches_are_written_to_the_sixteenth(length_mm: float, told: str) -> None:
    """Lengths in inches carry a reduced fraction, as on a tape measure."""
    assert length_in(length_mm, "in") == told


@given(length_mm=st.floats(-3000.0, 3000.0))
def test_written_inches_read_back_to_the_sixteenth(length_mm: float) -> None:
    """What is written is within 1/32 in of the length."""
    text = inches_text(length_mm).removesuffix(" in")
    sign = -1.0 if text.startswith("-") else 1.0
    whole, _, fraction = text.removeprefix("-").rpartition("-")
    over, _, under = fraction.partition("/")
    inches = float(whole or 0) + float(over) / float(under or 1)

    assert abs(sign * inches * 25.4 - length_mm) <= 25.4 / 32 + 1e-9


def test_an_answer_names_the_persons_own_units_first() -> None:
    """Whoever measures in millimetres reads them first in every sentence of an answer, and inches behind."""
    board = next(board for board in demo_boards(find_folder("demo_photos")) if board.verdict == "fail")

    told = read_board(replace(board.wish, units="mm")).answer.model_dump_json()

    assert MILLIMETRES_FIRST.search(told)
    assert INCHES_FIRST.search(told) is None


@pytest.mark.parametrize(
    ("units", "told"), [("in", "5-7/8 in (150 mm) and 236-1/4 in"), ("mm", "150 mm (5-7/8 in) and 6000 mm")]
)
def test_a_refusal_names_the_persons_own_units_first(units: str, told: str) -> None:
    """What is believable is told in the units that were chosen, and in the others behind."""
    typed = {"length": "20 m", "size": "1x2", "bow_length": "1700 mm", "units": units}

    with pytest.raises(BadInput) as refusal:
        read_texts(typed)

    assert refusal.value.field == "length"
    assert told in refusal.value.text
