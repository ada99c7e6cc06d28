"""The demo: boards that were made up for it, read from their photos and held against what is known of them."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from service.errors import BadInput
from service.judge.record import Answer
from service.language import say
from service.reading import Outcome, Wish, read_board
from service.settings import find_folder
from service.show.words import summary_lines
from service.sides import SIDES, BoardSize
from service.store.pictures import save_pictures
from service.terminal import tell, wrapped
from service.upload import Upload

Read = Callable[[Wish, Callable[[str], None]], Outcome]

_RULE: Final = "-" * 72

#: How a caution begins in the answer's words; the demo tells each of them once, not with every board.
_CAUTION: Final = "Mind: "


@dataclass(frozen=True)
class DemoBoard:
    """A made-up board: its photos, and the answer that is right for it.

    Attributes
    ----------
    wish
        What is asked.
    verdict, back, start_mm
        What is right: the verdict, the face that becomes the back and the lowest and highest right
        begin of the section; None when there is no section or either face will do.
    """

    name: str
    story: str
    wish: Wish
    verdict: str
    back: str | None
    start_mm: tuple[float, float] | None


def demo_boards(folder: Path) -> list[DemoBoard]:
    """Load the demo boards, in the order of their folders' names.

    Raises
    ------
    BadInput
        There is none.
    """
    boards = [_load(truth.parent) for truth in sorted(folder.glob("*/truth.json"))]
    if not boards:
        raise BadInput(
            say(
                "There are no demo boards in {folder}: install the program again, or take a whole clone.", folder=folder
            )
        )
    return boards


def _load(folder: Path) -> DemoBoard:
    truth: dict[str, Any] = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    expected = truth["expected"]
    wish = Wish(
        size=BoardSize(truth["length_mm"], truth["width_mm"], truth["thickness_mm"]),
        bow_length_mm=truth["bow_length_mm"],
        photos={side: _uploads(folder, side) for side in SIDES},
        closeups={side: photos for side in SIDES if (photos := _uploads(folder, f"{side}_close"))},
        end=next(iter(_uploads(folder, "end")), None),
        nominal=truth.get("nominal"),
    )
    start_mm = expected["section_start_mm"]
    return DemoBoard(
        truth["name"],
        truth["story"],
        wish,
        expected["verdict"],
        expected["back"],
        tuple(start_mm) if start_mm else None,
    )


def _uploads(folder: Path, name: str) -> tuple[Upload, ...]:
    file = folder / f"{name}.jpg"
    return (Upload(file.name, file.read_bytes()),) if file.is_file() else ()


def differences(board: DemoBoard, answer: Answer) -> list[str]:
    """Say where an answer departs from what is right; an empty list means nowhere."""
    found = []
    if answer.verdict != board.verdict:
        found.append(f"the verdict is {answer.verdict}, right is {board.verdict}")
    if board.back is not None and (answer.back is None or answer.back.face != board.back):
        found.append(f"the back is {answer.back.face if answer.back else 'none'}, right is {board.back}")
    if board.start_mm is not None:
        low_mm, high_mm = board.start_mm
        start_mm = answer.section.start_mm if answer.section else None
        if start_mm is None or not low_mm <= start_mm <= high_mm:
            found.append(f"the section begins at {start_mm} mm, right is {low_mm:.0f} to {high_mm:.0f} mm")
    return found


def run_demo(pictures: Path | None, read: Read = read_board, folder: Path | None = None) -> int:
    """Read every demo board and print each answer beside what is known; return 1 when one differs, else 0."""
    boards = demo_boards(folder if folder is not None else find_folder("demo_photos"))
    differing = 0
    cautions: dict[str, None] = {}
    for number, board in enumerate(boards, start=1):
        print(f"{_RULE}\nBoard {number} of {len(boards)}: {board.name}\n{wrapped([board.story])}\n", flush=True)
        outcome = read(board.wish, tell)
        lines = summary_lines(outcome.answer, "in")
        cautions.update(dict.fromkeys(line for line in lines if line.startswith(_CAUTION)))
        print(wrapped([line for line in lines if not line.startswith(_CAUTION)]))
        if pictures is not None:
            save_pictures(pictures / board.name.lower().replace(" ", "_"), outcome.pictures)
        found = differences(board, outcome.answer)
        differing += bool(found)
        told = f"DIFFERS: {'; '.join(found)}." if found else "The answer agrees."
        print(f"\n{wrapped([_known(board), told])}")
    print(f"{_RULE}\n{wrapped(list(cautions))}\n{_RULE}")
    print(f"{len(boards) - differing} of {len(boards)} answers agree with what is known.")
    return 1 if differing else 0


def _known(board: DemoBoard) -> str:
    words = [f"Known of it: the right answer is {board.verdict}"]
    if board.back is not None:
        words.append(f"the back is {board.back}")
    if board.start_mm is not None:
        words.append(f"the section begins between {board.start_mm[0]:.0f} and {board.start_mm[1]:.0f} mm")
    return ", ".join(words) + "."
