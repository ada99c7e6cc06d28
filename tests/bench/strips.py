"""How near the slope of drawn strips is read to the best that noise allows, ours and others'.

Ours is asked twice: in place, for the middle of every 4 in of a strip of 44 in, as the program works
(it may lean on the wood around); and alone, handed nothing but those 4 in. The others and the
bound get the 4 in alone.
"""

from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np

from service.grain.lines import LineField, measure_lines
from tests.bench.estimators import gaussian_tensor, radon_slope, shipped_tensor
from tests.bench.plane_waves import (
    MM_PER_PX,
    WINDOW_COLS,
    Double,
    Float,
    Kind,
    draw_strip,
    least_error_deg,
    make_wave,
)

SPACINGS_PX: Final = (3.0, 4.0, 5.0, 6.0, 8.0, 12.0, 20.0, 30.0)
CNRS: Final = (0.5, 1.0, 2.0)
KINDS: Final[tuple[Kind, ...]] = ("sine", "ring")
STEEPEST_DEG: Final = 4.0
FIXED: Final = 1 / 20
#: Windows of 4 in in each strip, with half a window left over at each end.
WINDOWS: Final = 10
STRIP_COLS: Final = (WINDOWS + 1) * WINDOW_COLS
STRIPS: Final = 8
#: The slow transform is only asked in strips of this contrast to noise, and for this many windows a strip.
RADON_CNR, RADON_WINDOWS = 1.0, 2

TARGET_RATIO, TARGET_BIAS_DEG = 2.0, 0.03

#: The others, by their columns: scikit-image's tensor as shipped, a round Gaussian's tensor, the Radon transform.
OTHERS: Final[dict[str, Callable[[Float], float]]] = {
    "shipped": shipped_tensor,
    "Gauss": gaussian_tensor,
    "Radon": radon_slope,
}
OURS: Final = ("in place", "alone")
METHODS: Final = (*OURS, *OTHERS)


@dataclass(frozen=True)
class Cell:
    """What was found on one kind of strip, and the best there could be.

    Attributes
    ----------
    random_deg, fixed_deg
        Method to errors, degrees, on slopes by chance and at 1 in 20 (negative: too straight).
    bound_deg
        Best mean absolute error.
    """

    kind: Kind
    spacing_px: float
    cnr: float
    random_deg: dict[str, Double]
    fixed_deg: dict[str, Double]
    bound_deg: float


def _alone(strip: Float) -> float:
    """Read 4 in of wood that nothing else is known of."""
    field: LineField = measure_lines(strip, MM_PER_PX)
    weight = 1 / field.error**2
    return float((weight * field.slope).sum() / weight.sum())


def window_errors_deg(strip: Float, slope: float, radon_windows: int = 0) -> dict[str, list[float]]:
    """Return every method's errors in the windows of a strip of known slope, degrees."""
    field = measure_lines(strip, MM_PER_PX)
    starts = WINDOW_COLS // 2 + WINDOW_COLS * np.arange(WINDOWS)
    middles_mm = (starts + WINDOW_COLS / 2) * MM_PER_PX
    found = {"in place": list(np.interp(middles_mm, field.positions_mm, field.slope))}
    pieces = [np.ascontiguousarray(strip[:, start : start + WINDOW_COLS]) for start in starts]
    found["alone"] = [_alone(piece) for piece in pieces]
    for name, method in OTHERS.items():
        asked = pieces if method is not radon_slope else pieces[:radon_windows]
        found[name] = [method(piece) for piece in asked]
    truth_deg = np.degrees(np.arctan(slope))
    return {name: list(np.degrees(np.arctan(values)) - truth_deg) for name, values in found.items()}


def measure_cell(key: tuple[Kind, float, float], seed: int) -> Cell:
    """Draw and read all strips of one kind."""
    kind, spacing_px, cnr = key
    wave = make_wave(kind, spacing_px)
    rng = np.random.default_rng([seed, KINDS.index(kind), round(spacing_px), round(cnr * 10)])
    slopes = np.tan(np.radians(rng.uniform(-STEEPEST_DEG, STEEPEST_DEG, STRIPS)))

    def errors(slope: float) -> dict[str, list[float]]:
        strip = draw_strip(wave, slope, cnr, STRIP_COLS, rng)
        return window_errors_deg(strip, slope, RADON_WINDOWS if cnr == RADON_CNR else 0)

    by_chance = [errors(float(slope)) for slope in slopes]
    fixed = [errors(FIXED) for _ in range(STRIPS)]

    def together(parts: list[dict[str, list[float]]]) -> dict[str, Double]:
        return {name: np.array([error for part in parts for error in part[name]]) for name in METHODS}

    return Cell(kind, spacing_px, cnr, together(by_chance), together(fixed), least_error_deg(wave, FIXED, cnr))


def _row(cell: Cell) -> str:
    parts = [f"{cell.kind:4s} {cell.spacing_px:3.0f} {cell.cnr:4.1f} {cell.bound_deg:6.3f} |"]
    for name in METHODS:
        errors = cell.random_deg[name]
        parts.append(f"{np.abs(errors).mean():8.3f}" if errors.size else f"{'-':>8s}")
    ratios = [np.abs(cell.random_deg[name]).mean() / cell.bound_deg for name in OURS]
    parts.append("|" + "".join(f"{ratio:9.1f}" for ratio in ratios) + " |")
    for name in METHODS:
        errors = cell.fixed_deg[name]
        parts.append(f"{errors.mean():+8.3f}" if errors.size else f"{'-':>8s}")
    # Windows of one strip lean on one another, strips do not: the error of the mean is that over strips.
    by_strip = cell.fixed_deg["in place"].reshape(STRIPS, WINDOWS).mean(axis=1)
    return " ".join([*parts, f" (± {by_strip.std(ddof=1) / np.sqrt(STRIPS):.3f})"])


def _report_missed(cells: list[Cell]) -> None:
    """Say which cells miss the targets."""
    clear = [cell for cell in cells if 4 <= cell.spacing_px <= 20 and cell.cnr >= 1]
    known = [cell for cell in cells if cell.spacing_px >= 4]
    for name in OURS:
        wide = sum(np.abs(cell.random_deg[name]).mean() > TARGET_RATIO * cell.bound_deg for cell in clear)
        off = [cell for cell in known if abs(cell.fixed_deg[name].mean()) > TARGET_BIAS_DEG]
        print(
            f"{name}: error above {TARGET_RATIO:.0f} x bound in {wide} of {len(clear)} kinds of 4 to 20 px, CNR >= 1;"
        )
        print(f"  bias at 1 in 20 beyond {TARGET_BIAS_DEG} degrees in {len(off)} of {len(known)} kinds from 4 px on:")
        for cell in off:
            print(f"  {cell.kind} {cell.spacing_px:.0f} px, CNR {cell.cnr}: {cell.fixed_deg[name].mean():+.3f}")


def print_strips(pool: ProcessPoolExecutor, seed: int) -> None:
    """Print the table of strips, drawn from a seed."""
    keys = list(product(KINDS, SPACINGS_PX, CNRS))
    print("STRIPS of 1.5 x 4 in at 40 px per in, degrees")
    print("CNR: lightest to darkest over the noise's standard deviation. Bound: best possible mean error (Cramer-Rao).")
    print(
        f"Each number from {STRIPS * WINDOWS} windows, Radon from {STRIPS * RADON_WINDOWS}. Bias below 0: too straight."
    )
    heads = " ".join(f"{name:>8s}" for name in METHODS)
    what = f"mean error within {STEEPEST_DEG:.0f} degrees"
    print(f"{'':21s} | {what:{len(heads)}s} | {'ours / bound':17s} | bias at 1 in 20")
    print(f"kind  px  CNR   bound | {heads} | {''.join(f'{name:>9s}' for name in OURS)[1:]} | {heads}  (± in place)")
    cells = []
    for cell in pool.map(measure_cell, keys, [seed] * len(keys)):
        cells.append(cell)
        print(_row(cell), flush=True)
    _report_missed(cells)
