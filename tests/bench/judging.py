"""How long the judgement takes, as ratios to a piece of plain work in the same run, and the ten made-up boards."""

from dataclasses import replace

import numpy as np

from service.board.types import BoardReading
from service.grain.types import KnotBox
from service.judge.alternatives import weigh_length
from service.judge.judge import judge
from service.judge.limits import DEFAULT
from service.sides import BoardSize
from tests.bench.speed import seconds
from tests.judge.decisions import print_decisions
from tests.judge.made import bump, change_side, make_reading

BOW_MM, WIDTH_MM = 1727.2, 38.1


def rough_board(length_mm: float, width_mm: float, knots: int) -> BoardReading:
    """Make up a board near the limit, with hills of slope, a crook and knots on face 1."""
    rng = np.random.default_rng(1)
    places_mm = make_reading(length_mm=length_mm).positions_mm
    slopes = {
        name: even + sum(bump(places_mm, rng.uniform(0, length_mm), 150.0, rng.uniform(-0.02, 0.02)) for _ in range(4))
        for name, even in (("face_1", 0.045), ("edge_1", 0.02))
    }
    reading = make_reading(slopes, length_mm=length_mm, error_deg=0.3)
    share = places_mm / length_mm
    for name, sign in (("face_1", 1.0), ("face_2", -1.0)):
        reading = change_side(reading, name, crook_mm=sign * 16.0 * share * (1.0 - share))
    boxes = tuple(
        KnotBox(at_mm, at_mm + 12.0, 5.0, 15.0) for at_mm in rng.uniform(0.1 * length_mm, 0.9 * length_mm, knots)
    )
    return replace(change_side(reading, "face_1", knots=boxes), size=BoardSize(length_mm, width_mm, 19.0))


def print_judging() -> None:
    """Print how long boards of several sizes take, then what is decided of ten made-up ones."""
    plain = np.random.default_rng(2).random(1_000_000)
    unit = seconds(lambda: np.sort(plain))
    print(f"plain work: sorting a million numbers, {1000 * unit:.1f} ms")
    boards = {
        "1x2 of 76 in": rough_board(1930.4, 38.1, 1),
        "1x2 of 8 ft": rough_board(2438.4, 38.1, 2),
        "1x3 of 8 ft": rough_board(2438.4, 63.5, 2),
        "1x6 of 12 ft": rough_board(3657.6, 139.7, 4),
    }
    for name, reading in boards.items():
        waits = {
            "judge": lambda board=reading: judge(board, BOW_MM),
            "judge, bow narrower": lambda board=reading: judge(board, BOW_MM, bow_width_mm=WIDTH_MM),
            "section search with offsets and slants": lambda board=reading: weigh_length(
                board, BOW_MM, DEFAULT, WIDTH_MM
            ),
        }
        for what, wait in waits.items():
            taken = seconds(wait)
            print(f"{name:14s} {what:40s} {1000 * taken:7.1f} ms {taken / unit:6.2f} x plain work")
    print("targets: judge an ordinary board 20 ms, search a 1x6 of 12 ft 150 ms\n")
    print_decisions()
