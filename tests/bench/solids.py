"""How well whole boards are read: drawn solids through the whole line, from photo bytes to answer."""

from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import product
from typing import Final

import numpy as np

from service.reading import read_board
from tests.bench.boards import BOW_MM, KINDS, PHOTOS, SHOTS, Kind, Photos, draw_board
from tests.bench.scoring import CONFIDENT_DEG, RUNOFF_MM, Double, Score, score_board


@dataclass(frozen=True)
class Result:
    """One board read with all its photos, and once more from the photos of its sides alone."""

    kind: Kind
    photos: Photos
    seed: int
    full: Score
    bare: Score


def measure_board(kind: Kind, photos: Photos, seed: int) -> Result:
    """Draw a board, read it twice, compare."""
    drawn = draw_board(kind, photos, seed)
    full = score_board(read_board(drawn.wish).answer, drawn.solid)
    bare = score_board(read_board(replace(drawn.wish, closeups={}, end=None)).answer, drawn.solid)
    return Result(kind, photos, seed, full, bare)


def _joined(scores: Sequence[Score], what: Callable[[Score], Double]) -> Double:
    return np.concatenate([np.zeros(0), *(what(score) for score in scores)])


def _mean(values: Double) -> float:
    return float(values.mean()) if values.size else float("nan")


def _ratio(part: int, whole: int) -> float:
    return part / whole if whole else float("nan")


def _covered(scores: Sequence[Score]) -> Double:
    error, half = (_joined(scores, part) for part in (lambda s: s.fibre_deg, lambda s: s.half_deg))
    return np.asarray(np.abs(error) <= half, np.float64)


def _confidently_wrong(scores: Sequence[Score]) -> Double:
    error, half = (_joined(scores, part) for part in (lambda s: s.fibre_deg, lambda s: s.half_deg))
    return np.asarray(np.abs(error) > half + CONFIDENT_DEG, np.float64)


def _normal(scores: Sequence[Score]) -> float:
    return _mean(np.array([score.normal_deg for score in scores if score.normal_deg is not None]))


def _counts(scores: Sequence[Score], what: Callable[[Score], tuple[int, int, int]]) -> tuple[int, int, int]:
    right, false, missed = np.sum([what(score) for score in scores], axis=0).tolist()
    return right, false, missed


@dataclass(frozen=True)
class Measure:
    """A row of the table: its name, what it takes from a group of boards, and what is wanted of it.

    `within` tells for whole and for part photos the least and the most that is good enough.
    """

    name: str
    of: Callable[[Sequence[Result]], float]
    whole: tuple[float, float] | None = None
    part: tuple[float, float] | None = None

    def target(self, photos: Photos) -> tuple[float, float] | None:
        """Return what is wanted for a kind of photos."""
        return self.whole if photos == "whole" else self.part


def _full(results: Sequence[Result]) -> list[Score]:
    return [result.full for result in results]


def _bare(results: Sequence[Result]) -> list[Score]:
    return [result.bare for result in results]


def _fibre(results: Sequence[Result]) -> Double:
    return np.abs(_joined(_full(results), lambda score: score.fibre_deg))


def _runoffs(results: Sequence[Result]) -> tuple[int, int, int]:
    return _counts(_full(results), lambda score: score.runoffs)


def _knots(results: Sequence[Result]) -> tuple[int, int, int]:
    return _counts(_full(results), lambda score: score.knots)


def _seen_fibre(results: Sequence[Result]) -> float:
    seen = [score for score in _full(results) if score.spiral_seen]
    return _mean(np.abs(_joined(seen, lambda score: score.fibre_deg)))


def _share_straight(results: Sequence[Result]) -> float:
    return _mean(_joined(_full(results), lambda score: score.straight_deg))


def _runoff_miss(results: Sequence[Result]) -> float:
    missed_mm = _joined(_full(results), lambda score: score.runoff_miss_mm)
    return float(np.median(missed_mm)) if missed_mm.size else float("nan")


AT_MOST_1: Final = (0.0, 0.01)
MEASURES: Final = (
    Measure("boards", lambda r: float(len(r))),
    Measure("sides refused", lambda r: float(sum(len(s.refused) for s in _full(r)))),
    Measure("positions given, share", lambda r: float(np.mean([s.given for s in _full(r)])), (0.9, 1), (0.9, 1)),
    Measure(
        "lines outside ring-to-fibre", lambda r: _mean(_joined(_full(r), lambda s: s.line_deg)), (0, 0.25), (0, 0.12)
    ),
    Measure("diagonal part d", lambda r: _mean(_joined(_full(r), lambda s: s.diagonal_deg)), (0, 0.2), (0, 0.1)),
    Measure("fibre, mean error", lambda r: _mean(_fibre(r)), (0, 0.4), (0, 0.25)),
    Measure(
        "fibre, 95th percentile",
        lambda r: float(np.percentile(_fibre(r), 95)) if _fibre(r).size else np.nan,
        (0, 1.2),
        (0, 0.7),
    ),
    Measure("fibre, bias (-: too straight)", _share_straight, (-0.05, 0.05), (-0.05, 0.05)),
    Measure("fibre where said seen, mean", _seen_fibre, (0, 0.6), (0, 0.6)),
    Measure("boards with spiral unseen", lambda r: float(sum(not s.spiral_seen for s in _full(r)))),
    Measure("95 % interval holds, share", lambda r: _mean(_covered(_full(r))), (0.93, 0.97), (0.93, 0.97)),
    Measure("half-width stated, mean", lambda r: _mean(_joined(_full(r), lambda s: s.half_deg))),
    Measure("confidently wrong, share", lambda r: _mean(_confidently_wrong(_full(r))), AT_MOST_1, AT_MOST_1),
    Measure("ring normal, with end photo", lambda r: _normal(_full(r)), (0, 3), (0, 3)),
    Measure("run-offs, precision", lambda r: _ratio(_runoffs(r)[0], sum(_runoffs(r)[:2])), (0.8, 1), (0.9, 1)),
    Measure("run-offs, recall", lambda r: _ratio(_runoffs(r)[0], _runoffs(r)[0] + _runoffs(r)[2]), (0.8, 1), (0.9, 1)),
    Measure("run-offs, median miss in mm", _runoff_miss),
    Measure("knots, recall", lambda r: _ratio(_knots(r)[0], _knots(r)[0] + _knots(r)[2]), (0.95, 1), (0.95, 1)),
    Measure("false knots per ten boards", lambda r: 10 * _knots(r)[1] / len(r), (0, 1), (0, 1)),
    Measure("ring normal, sides alone", lambda r: _normal(_bare(r)), (0, 8), (0, 8)),
    Measure("fibre mean, sides alone", lambda r: _mean(np.abs(_joined(_bare(r), lambda s: s.fibre_deg)))),
    Measure("95 % holds, sides alone", lambda r: _mean(_covered(_bare(r)))),
    Measure("confidently wrong, sides alone", lambda r: _mean(_confidently_wrong(_bare(r))), AT_MOST_1, AT_MOST_1),
)


def _cell(measure: Measure, results: Sequence[Result], photos: Photos) -> str:
    value, target = measure.of(results), measure.target(photos)
    missed = target is not None and not (target[0] <= value <= target[1]) and not np.isnan(value)
    text = "-" if np.isnan(value) else f"{value:.0f}" if target is None and value == int(value) else f"{value:.3f}"
    return f"{text:>12s}{'!' if missed else ' '}"


def _print_table(photos: Photos, results: Sequence[Result]) -> None:
    groups = [[result for result in results if result.kind == kind] for kind in KINDS]
    print(f"\nSOLIDS, {photos} photos ({SHOTS[photos]} a side); degrees; ! misses the target")
    print(f"{'':32s}" + "".join(f"{name:>12s} " for name in (*KINDS, "all")) + "  target")
    for measure in MEASURES:
        target = measure.target(photos)
        wanted = "" if target is None else f"{target[0]:g} to {target[1]:g}"
        cells = "".join(_cell(measure, group, photos) for group in (*groups, list(results)))
        print(f"{measure.name:32s}{cells}  {wanted}")


def _board_line(result: Result) -> str:
    full = result.full
    errors = [_mean(np.abs(part)) for part in (full.fibre_deg, full.diagonal_deg, full.line_deg)]
    fibre, diagonal, lines = (f"{error:.2f}" for error in errors)
    refused = ", ".join(full.refused) or "none"
    name = f"{result.kind:13s} {result.photos:5s} {result.seed}"
    return f"{name}: fibre {fibre}, d {diagonal}, lines {lines}, sides refused: {refused}"


def print_solids(pool: ProcessPoolExecutor, seeds: Sequence[int]) -> None:
    """Print a line for every board and the tables: a board of each kind, from both kinds of photos, for each seed."""
    print(
        f"SOLIDS: drawn boards, four sides, two close-ups, an end photo; bow {BOW_MM:.0f} mm; angles away from knots."
    )
    print(f"Run-offs count within {RUNOFF_MM} mm. Confidently wrong: {CONFIDENT_DEG} degree beyond the 95 % interval.")
    keys = list(product(KINDS, PHOTOS, seeds))
    results = []
    for result in pool.map(measure_board, *zip(*keys, strict=True)):
        results.append(result)
        print(_board_line(result), flush=True)
    for photos in PHOTOS:
        _print_table(photos, [result for result in results if result.photos == photos])
