"""What speaks against a face as the back though its slopes do not: cut rings, cathedral figure, the pith side."""

import numpy as np

from service.board.phrase import length_text, side_text, side_title, slope_text
from service.board.types import BoardReading
from service.judge.combined import running_mean
from service.judge.figure import MUCH_FIGURE
from service.judge.lattice import fill_bridges
from service.judge.limits import Limits
from service.judge.record_side import Reason, Side
from service.judge.section import Search, line_slope
from service.language import say
from service.sides import side_opposite


def warnings_of(reading: BoardReading, found: Search, start: int, face: Side, limits: Limits) -> list[Reason]:
    """List what speaks against a face as the back of the section that begins at a start.

    Parameters
    ----------
    reading, found
        The board and its search.
    start
        Number of the section's start.
    face
        The face that becomes the back.

    Returns
    -------
    At most three reasons: "rings_cut", "cathedral_back", "pith_side_out".
    """
    told = (
        rings_cut(reading, found, start, face, limits),
        _cathedral(reading, found, start, face),
        _pith(reading, face),
    )
    return [warning for warning in told if warning is not None]


def rings_cut(reading: BoardReading, found: Search, start: int, face: Side, limits: Limits) -> Reason | None:
    """Warn when ring lines on the back run out more steeply than its limit though the fibre does not."""
    lattice = found.slopes.lattice
    side = reading.sides[face]
    inside = slice(start, start + lattice.section_steps + 1)
    points_mm = lattice.points_mm[inside]
    zeros = np.zeros(side.line_deg.shape)
    line_deg, _ = fill_bridges(reading.positions_mm, side.line_deg, zeros, points_mm, limits)
    fibre_deg, _ = fill_bridges(reading.positions_mm, side.angle_deg, zeros, points_mm, limits)
    # The laid-out slope is the fibre's against the board's line: what it has beyond the fibre's own
    # angle is the warp, which turns the ring lines just as much.
    warp = found.slopes.laid[face].slope[inside] - np.tan(np.radians(fibre_deg))
    turn = warp - line_slope(found.slopes, found.lay, face)[start]
    slope = np.abs(running_mean(np.tan(np.radians(line_deg)) + turn, lattice.mean_steps))
    if not np.isfinite(slope).any() or float(np.nanmax(slope)) <= limits.back_slope:
        return None
    at = int(np.nanargmax(slope))
    position_mm = float(points_mm[at + lattice.mean_steps // 2])
    text = say(
        "Ring lines on {side} run out at {slope} near {place} although the fibres run straighter: the back cuts "
        "through rings there, so think of backing the bow.",
        side=side_text(face),
        slope=slope_text(float(slope[at])),
        place=length_text(position_mm),
    )
    return Reason(code="rings_cut", text=text, side=face, position_mm=round(position_mm, 1))


def _cathedral(reading: BoardReading, found: Search, start: int, face: Side) -> Reason | None:
    """Warn when V shapes cover much of the back inside the section.

    That a back without them is preferred is common practice, no source.
    """
    start_mm = float(found.slopes.lattice.starts_mm[start])
    end_mm = start_mm + found.slopes.lattice.section_mm
    inside = (reading.positions_mm >= start_mm) & (reading.positions_mm <= end_mm)
    other = side_opposite(face)
    shares = {
        name: float(reading.sides[name].cathedral[inside].mean()) if inside.any() else 0.0 for name in (face, other)
    }
    if shares[face] <= MUCH_FIGURE:
        return None
    text = say(
        "V shapes (cathedral figure) cover {share} % of {side}, the back, inside the section, and {other_share} % of "
        "{other}: rings thin out at every V, and many bowyers prefer a back without them. The verdict counts the slope "
        "of the fibre alone; in doubt think of backing the bow.",
        share=f"{100 * shares[face]:.0f}",
        side=side_text(face),
        other_share=f"{100 * shares[other]:.0f}",
        other=side_text(other),
    )
    return Reason(code="cathedral_back", text=text, side=face)


def _pith(reading: BoardReading, face: Side) -> Reason | None:
    """Warn when a flat-sawn board's back is the face nearer the pith; common practice, no source."""
    rings = reading.rings
    if rings is None or rings.sawing != "flat":
        return None
    # The ring normal points away from the pith, z out of face 1.
    nearer = "face_2" if rings.normal_yz[1] > 0 else "face_1"
    if face != nearer:
        return None
    text = say(
        "{side}, the back, is the side nearer the pith. Most bowyers put the bark side out, where the rings arch "
        "toward the back; a straighter grain comes before that.",
        side=side_title(face),
    )
    return Reason(code="pith_side_out", text=text, side=face)
