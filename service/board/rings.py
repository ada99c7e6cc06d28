"""How the growth rings lie: their normal at the middle of the board, from three readings that check one another.

The end photo shows the rings themselves. A ring line on a face has the slope d / n_y, on an edge
d / n_z, so the two stand as n_z to n_y. And rings a distance w apart show w / |n_y| apart on a face,
w / |n_z| on an edge, so their frequencies stand as n_y to n_z.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from service.board.plane import UPWARD
from service.board.types import RingReading
from service.grain.rings import EndRings
from service.grain.types import SideGrain
from service.sides import BoardSize

Double = NDArray[np.float64]

RIFT_DEG: Final = (30.0, 60.0)
"""Tilt of the ring normal from the face's normal: flat below, quarter above, rift between.
Common practice, no source; ANC-19 2.402 draws one line only, at 45."""

LINE_NOISE: Final = 0.003
"""What lines lean toward the fibre, one sigma."""

VEE_SPREAD: Final = 0.015
"""Thirds of a side whose lines lie further apart than this may be V shapes."""

VEE_SHARE: Final = 0.5
"""They are none when the lines of both opposite sides agree in one slope larger than spread over this."""

VEE_DEG: Final = 12.0
"""V shapes on one kind of side say that the rings lie along it, to within this."""

LEAST_DEG: Final = 5.0
"""Slopes never tell the normal better than this: the fibre draws lines too."""

MOST_DEG: Final = 30.0
"""A reading less sure than this tells nothing."""

SPACING_ZERO_DEG, SPACING_GAIN = 16.0, 1.75
"""Frequencies of faces against edges understate the tilt: a side without ring lines still shows some
lines. Measured on drawn boards: tilt = gain * (angle of the frequencies - zero)."""

SPACING_DEG: Final = 30.0
"""Half-width of the interval of a tilt from spacings: rings differ from one to the next."""

ALONE: Final = 2.0
"""Spacings alone are trusted this many times less: nothing checks them."""

DRIFT: Final = 0.01
"""One sigma of the slope at which the pith runs off against the board, from the end to the middle."""

CONTRADICT: Final = 1.5
"""Readings further apart than this many half-widths of their difference contradict each other."""


@dataclass(frozen=True)
class _Normal:
    """One reading: angle of the normal from +y toward +z, modulo 180, half-width of its interval, where from."""

    angle_deg: float
    error_deg: float
    source: Literal["end", "spacing", "slopes"]


def find_rings(size: BoardSize, sides: Mapping[str, SideGrain], end: EndRings | None) -> RingReading | None:
    """Put the readings of how the rings lie together.

    Parameters
    ----------
    size
        The board.
    sides
        The sides that were read.
    end
        Rings in the end photo.

    Returns
    -------
    RingReading for the middle of the board; None when nothing told.
    """
    found = [reading for reading in (_from_end(size, end), _from_slopes(sides)) if reading is not None]
    spacing = _from_spacing(sides, found)
    if spacing is not None:
        found.append(spacing)
    if not found:
        return None
    kept = [found[0]]
    for reading in found[1:]:
        # The surer comes first; what contradicts it only widens its error.
        apart_deg = abs(_between(reading.angle_deg, kept[0].angle_deg))
        if apart_deg <= CONTRADICT * np.hypot(reading.error_deg, kept[0].error_deg):
            kept.append(reading)
    weight = np.array([1 / reading.error_deg**2 for reading in kept])
    turns = np.array([_between(reading.angle_deg, kept[0].angle_deg) for reading in kept])
    angle_rad = np.radians(kept[0].angle_deg + float((weight * turns).sum() / weight.sum()))
    error_deg = float(1 / np.sqrt(weight.sum()))
    if len(kept) < len(found):
        error_deg *= CONTRADICT
    normal = float(np.cos(angle_rad)), float(np.sin(angle_rad))
    if end is not None and normal[0] * end.normal_yz[0] + normal[1] * end.normal_yz[1] < 0:
        normal = -normal[0], -normal[1]
    pith = _pith(size, normal, end.curve_per_mm) if end is not None else None
    return _reading(pith, normal, error_deg, tuple(reading.source for reading in kept))


def _between(one_deg: float, other_deg: float) -> float:
    """Return the turn from another axis to one, -90 to 90."""
    return (one_deg - other_deg + 90.0) % 180.0 - 90.0


def _from_end(size: BoardSize, end: EndRings | None) -> _Normal | None:
    if end is None:
        return None
    drift_deg = float(np.degrees(2 * DRIFT * size.length_mm / 2 * end.curve_per_mm))
    angle_deg = float(np.degrees(np.arctan2(end.normal_yz[1], end.normal_yz[0])))
    return _Normal(angle_deg, float(np.hypot(end.error_deg, drift_deg)), "end")


def _from_slopes(sides: Mapping[str, SideGrain]) -> _Normal | None:
    """Find the normal from ring lines on a face and an edge, or from V shapes on one kind of side."""
    kinds = {kind: {side: grain for side, grain in sides.items() if side.startswith(kind)} for kind in ("face", "edge")}
    if not kinds["face"] or not kinds["edge"]:
        return None
    vees = {kind: _vees(grains) for kind, grains in kinds.items()}
    if vees["face"] != vees["edge"]:
        return _Normal(90.0 if vees["face"] else 0.0, VEE_DEG, "slopes")
    face, face_error = weighted(
        [(UPWARD[side] * grain.ring, grain.ring_error) for side, grain in kinds["face"].items()]
    )
    edge, edge_error = weighted(
        [(UPWARD[side] * grain.ring, grain.ring_error) for side, grain in kinds["edge"].items()]
    )
    both = np.isfinite(face) & np.isfinite(edge)
    if not both.any():
        return None
    power = float((face[both] ** 2).sum()), float((face[both] * edge[both]).sum()), float((edge[both] ** 2).sum())
    angle_deg = float(np.degrees(0.5 * np.arctan2(2 * power[1], power[2] - power[0])))  # (n_y, n_z) along (edge, face)
    noise = float((face_error[both] ** 2 + edge_error[both] ** 2).sum()) + 2 * LINE_NOISE**2 * both.sum()
    error_deg = float(np.degrees(2 * np.sqrt(noise / max(power[0] + power[2], 1e-12))))
    return _Normal(angle_deg, max(error_deg, LEAST_DEG), "slopes") if error_deg < MOST_DEG else None


def _vees(grains: Mapping[str, SideGrain]) -> bool:
    """Tell whether V shapes leave the lines of a kind of side without a slope of their own."""
    spread = min(float(np.nanmedian(grain.spread)) for grain in grains.values())
    slopes = [UPWARD[side] * float(np.nanmedian(grain.ring)) for side, grain in grains.items()]
    least = min(np.abs(slopes)) if min(slopes) * max(slopes) > 0 else 0.0
    return spread > VEE_SPREAD and spread > VEE_SHARE * least


def _from_spacing(sides: Mapping[str, SideGrain], others: Sequence[_Normal]) -> _Normal | None:
    """Find the tilt from the frequency of ring lines on faces and edges; which way it leans others must tell."""
    per_mm = {
        kind: [grain.rings_per_mm for side, grain in sides.items() if side.startswith(kind) and grain.rings_per_mm > 0]
        for kind in ("face", "edge")
    }
    if not per_mm["face"] or not per_mm["edge"]:
        return None
    shown_deg = float(np.degrees(np.arctan2(np.mean(per_mm["face"]), np.mean(per_mm["edge"]))))
    tilt_deg = float(np.clip(SPACING_GAIN * (shown_deg - SPACING_ZERO_DEG), 0.0, 90.0))
    choices = 90.0 - tilt_deg, 90.0 + tilt_deg
    if others:
        nearer = min(choices, key=lambda angle_deg: abs(_between(angle_deg, others[0].angle_deg)))
        return _Normal(nearer, SPACING_DEG, "spacing")
    # Without another reading the two leans cannot be told apart; near flat and near quarter they are one.
    apart_deg = min(tilt_deg, 90.0 - tilt_deg)
    if apart_deg > SPACING_DEG / 2:
        return None
    return _Normal(90.0 if tilt_deg < 45.0 else 0.0, ALONE * SPACING_DEG, "spacing")


def local_normal(size: BoardSize, rings: RingReading, side: str) -> tuple[float, float]:
    """Return the unit vector across the rings at the middle of a side, away from the pith.

    Examples
    --------
    Pith 50 mm below the middle of a 40 x 20 mm board: at edge 1 (y = 0) the rings already slant.

    >>> size = BoardSize(1000.0, 40.0, 20.0)
    >>> rings = RingReading((20.0, -40.0), (0.0, 1.0), 0.0, 2.0, ("end",), "flat")
    >>> [round(part, 3) for part in local_normal(size, rings, "edge_1")]
    [-0.371, 0.928]
    """
    if rings.pith_mm is None:
        return rings.normal_yz
    middle = {
        "face_1": (size.width_mm / 2, size.thickness_mm),
        "face_2": (size.width_mm / 2, 0.0),
        "edge_1": (0.0, size.thickness_mm / 2),
        "edge_2": (size.width_mm, size.thickness_mm / 2),
    }[side]
    away = np.subtract(middle, rings.pith_mm)
    away = away / np.linalg.norm(away)
    return float(away[0]), float(away[1])


def _pith(size: BoardSize, normal_yz: tuple[float, float], curve_per_mm: float) -> tuple[float, float] | None:
    """Return where the pith lies, as seen from the middle of the cross-section; None when it is too far to tell.

    >>> _pith(BoardSize(1000.0, 40.0, 20.0), (0.0, 1.0), 0.02)
    (20.0, -40.0)
    """
    if curve_per_mm <= 0:
        return None
    middle_mm = size.width_mm / 2, size.thickness_mm / 2
    return middle_mm[0] - normal_yz[0] / curve_per_mm, middle_mm[1] - normal_yz[1] / curve_per_mm


def _reading(
    pith_mm: tuple[float, float] | None, normal: tuple[float, float], error_deg: float, sources: tuple[str, ...]
) -> RingReading:
    tilt_deg = float(np.degrees(np.arctan2(abs(normal[0]), abs(normal[1]))))
    sawing = "flat" if tilt_deg < RIFT_DEG[0] else "quarter" if tilt_deg > RIFT_DEG[1] else "rift"
    return RingReading(pith_mm, normal, tilt_deg, error_deg, sources, sawing)  # type: ignore[arg-type]


def weighted(parts: Sequence[tuple[Double, Double]]) -> tuple[Double, Double]:
    """Mean of several readings by inverse variance, skipping what is NaN."""
    values, errors = np.stack([p[0] for p in parts]), np.stack([p[1] for p in parts])
    weights = np.where(np.isfinite(values), 1 / np.maximum(errors, 1e-6) ** 2, 0.0)
    total = weights.sum(axis=0)
    known = total > 0
    mean = np.where(known, np.nansum(weights * np.nan_to_num(values), axis=0) / np.where(known, total, 1), np.nan)
    return mean, np.where(known, 1 / np.sqrt(np.where(known, total, 1)), np.nan)
