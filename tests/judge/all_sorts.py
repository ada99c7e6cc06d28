"""Boards of all sorts, so that everything that can be told of a board is told of one of them."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from service.board.types import BoardReading, RingReading
from service.judge.limits import Limits, make_limits
from service.photo.quality import TOO_DARK
from service.sides import BoardSize
from tests.judge.decisions import DECISIONS
from tests.judge.made import change_side, make_reading, unread, with_knot, without

FLAT: Final = RingReading(None, (0.0, 1.0), 5.0, 3.0, ("end",), "flat")


def boards() -> Iterator[tuple[BoardReading, float, float | None, Limits]]:
    """Make boards of all sorts with a bow's length, its width, and limits: good, steep, knotty, bent, half read."""
    usual = Limits()
    for one in DECISIONS:
        yield one.reading, one.bow_in * 25.4, None if one.width_in is None else one.width_in * 25.4, usual
    even = make_reading({"face_1": 0.02, "edge_1": 0.01}, rings=FLAT)
    count = even.positions_mm.size
    yield make_reading(), 1700.0, None, make_limits("first bow", "strict", {"kerf_mm": 2.0})
    yield make_reading({"face_1": 0.09}), 1700.0, 30.0, make_limits("backed", "lenient", {"back_slope": 0.15})
    yield make_reading({"face_1": 0.047, "face_2": -0.02}, error_deg=0.8, spiral_seen=False), 1700.0, None, usual
    yield make_reading({"face_1": 0.052}, error_deg=0.5), 1700.0, None, usual
    yield make_reading({"face_1": 0.03, "face_2": 0.03}, spiral_seen=False, rings=FLAT), 1700.0, None, usual
    yield make_reading({"face_1": np.linspace(0.0, 0.06, count)}), 1700.0, None, usual
    yield even, 9000.0, None, usual
    yield replace(even, end_checks_mm=(300.0, 400.0)), 1800.0, None, usual
    yield change_side(even, "face_1", crook_mm=-60 * np.sin(np.linspace(0, np.pi, count))), 1700.0, None, usual
    yield change_side(even, "face_1", crook_mm=-8 * np.sin(np.linspace(0, np.pi, count))), 1700.0, None, usual
    yield with_knot(with_knot(even, "face_1", 1100.0, 1120.0), "edge_1", 1400.0, 1410.0), 1800.0, None, usual
    figured = change_side(even, "face_1", cathedral=np.ones(count, bool))
    yield change_side(figured, "face_2", line_deg=even.sides["face_2"].angle_deg + 3.0), 1700.0, None, usual
    yield replace(figured, spiral_seen=False), 1700.0, None, usual
    yield unread(unread(even, "face_1", 700.0, 900.0), "face_1", 1300.0, 1400.0), 1900.0, None, usual
    yield unread(unread(even, "face_1", 700.0, 900.0), "face_2", 700.0, 900.0), 2400.0, None, usual
    yield without(even, "face_2"), 1700.0, None, usual
    yield without(without(even, "edge_1"), "edge_2"), 1700.0, None, usual
    yield change_side(without(even, "face_2", "retake"), "face_2", problem=None), 1700.0, None, usual
    dark = without(without(even, "face_1", "retake"), "face_2")
    yield change_side(dark, "face_1", problem=TOO_DARK.said()), 1700.0, None, usual


def by_chance() -> Iterator[tuple[BoardReading, float, float | None, Limits]]:
    """Make many more boards, so that what is told of few of them is told of one."""
    chance = np.random.default_rng(1)
    for number in range(40):
        count = make_reading().positions_mm.size
        wave = 0.02 * np.sin(np.linspace(0.0, chance.uniform(1, 9), count)) * chance.integers(0, 2)
        slope = wave + chance.choice([0.0, 0.02, 0.045, 0.055, 0.08])
        slopes = {
            "face_1": slope,
            "face_2": chance.choice([0.0, 0.02, -0.03]) - slope,
            "edge_1": chance.choice([0, 0.03]),
        }
        if number % 3:
            slopes |= {"edge_2": 0.02 - slopes["edge_1"]}
        board = make_reading(slopes, error_deg=chance.choice([0.05, 0.3, 0.8]), rings=(None, FLAT)[number % 2])
        board = replace(board, spiral_seen=bool(number % 4), size=BoardSize(2438.4, chance.choice([38.1, 88.9]), 19.05))
        for name, places in (("face_1", number % 5), ("edge_1", number % 2)):
            for place in range(places):
                board = unread(board, name, 400.0 + 300 * place, 460.0 + 300 * place)
        if number % 7 == 0:
            board = change_side(board, "face_1", cathedral=np.ones(count, bool))
        if number % 6 == 0:
            board = with_knot(board, "face_1", 1150.0, 1165.0)
        bow_mm, width_mm = chance.choice([1300.0, 1727.2, 1828.8]), chance.choice([25.4, 38.1])
        yield board, bow_mm, None if number % 3 else width_mm, Limits()
