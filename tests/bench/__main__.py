"""Times each wait on a demo board, beside what it may take on one core of a small computer: `python -m tests.bench`."""

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from service.board.assemble import board_grid
from service.demo import DemoBoard, demo_boards
from service.photo.decode import open_photo
from service.reading import read_board
from service.settings import find_folder
from service.show.words import summary_lines
from service.sight import see_side

REPEATS = 5


def waits(board: DemoBoard) -> dict[str, tuple[float, Callable[[], object]]]:
    """Return each wait by its name: the seconds it may take, and how to bring it about."""
    photo = board.wish.photos["face_1"]
    size = board.wish.size
    outcome = read_board(board.wish)
    return {
        "start the program": (2.5, lambda: subprocess.run([sys.executable, "-c", "import service.cli"], check=True)),
        "open a photo": (0.15, lambda: open_photo(photo[0].data, photo[0].name)),
        "read one side": (
            0.8,
            lambda: see_side(photo, size.length_mm, size.across_mm("face_1"), board_grid(size.length_mm)),
        ),
        "read a board of four sides, two close-ups and the end": (4.0, lambda: read_board(board.wish)),
        "write the answer": (0.01, lambda: (summary_lines(outcome.answer, "in"), outcome.answer.model_dump_json())),
    }


def seconds(wait: Callable[[], object]) -> float:
    """Return the median time of a wait, after one run to warm up."""
    wait()
    taken = []
    for _ in range(REPEATS):
        began = time.perf_counter()
        wait()
        taken.append(time.perf_counter() - began)
    return float(np.median(taken))


def main() -> int:
    """Print each wait beside its budget, and as JSON when a file is named; return 1 when one is over."""
    board = demo_boards(find_folder("demo_photos"))[0]
    times = {}
    over = False
    for name, (budget, wait) in waits(board).items():
        times[name] = seconds(wait)
        over |= times[name] > budget
        mark = "over" if times[name] > budget else "ok"
        print(f"{name:55s} {times[name] * 1000:8.1f} ms of {budget * 1000:6.0f} ms   {mark}", flush=True)
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(json.dumps(times, indent=2), encoding="utf-8")
    return int(over)


if __name__ == "__main__":
    sys.exit(main())
