"""README's first command: the demo boards, whose right answers follow from the solids they were drawn from."""

from typing import Final

import pytest

from service.demo import DemoBoard, demo_boards, differences
from service.reading import read_board
from service.settings import find_folder
from service.sides import SIDES

BOARDS: Final = demo_boards(find_folder("demo_photos"))


@pytest.mark.parametrize("board", BOARDS, ids=[board.name for board in BOARDS])
def test_a_demo_board_gets_its_right_answer(board: DemoBoard) -> None:
    """Verdict, back and section of every demo board are the known ones; each side read and the margin have pictures."""
    outcome = read_board(board.wish)

    assert differences(board, outcome.answer) == []
    read = {side for side in SIDES if outcome.answer.sides[side].status == "read"}
    assert outcome.pictures.keys() == read | ({"margin"} if outcome.answer.margin is not None else set())


def test_the_demo_shows_different_answers() -> None:
    """The boards are not all good: one passes and one fails at least."""
    assert {"pass", "fail"} <= {board.verdict for board in BOARDS}
