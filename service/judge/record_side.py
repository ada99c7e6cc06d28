"""The answer's parts about one side of the board, and what all parts are made of."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Side = Literal["face_1", "edge_1", "face_2", "edge_2"]
Numbers = list[float | None]


class Part(BaseModel):
    """A part of the answer; it never changes once made and holds no field that is not described."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Reason(Part):
    """One reason for the verdict."""

    code: str = Field(description="Short fixed name of the reason, for programs.")
    text: str = Field(description="The reason as a sentence.")
    side: Side | None = Field(None, description="The side it concerns, when it concerns one.")
    position_mm: float | None = Field(None, description="Where it begins, from the marked end.")
    length_mm: float | None = Field(None, description="How long the stretch is.")


class Stretch(Part):
    """A stretch of a side and what its grain looks like."""

    from_mm: float = Field(description="Begin of the stretch.")
    to_mm: float = Field(description="End of the stretch.")
    kind: Literal["straight", "cathedral", "knot", "unreadable"] = Field(
        description="straight: lines run along; cathedral: V shapes of flat-sawn rings; "
        "knot; unreadable: nothing could be read, so nothing is claimed."
    )


class RunOff(Part):
    """A place where a grain line leaves a side over one of its two long corners."""

    position_mm: float = Field(description="Where it leaves.")
    over: Side = Field(description="The neighbouring side whose corner it leaves over.")
    slope: float = Field(description="Slope of the grain line there, rise over length.")
    line: int = Field(
        description="Which of the nine lines, 1 to 9: the tenth of the width, counted from the "
        "lower corner, at which the line started."
    )
    position_error_mm: float = Field(
        description="Half-width of the 95 % interval of its place: errors of slope, added up along the line."
    )


class Knot(Part):
    """A knot, as the rectangle around it."""

    from_mm: float = Field(description="Begin along the board.")
    to_mm: float = Field(description="End along the board.")
    across_from_mm: float = Field(description="Lower end across, from the lower long corner.")
    across_to_mm: float = Field(description="Upper end across, from the lower long corner.")
    by_hand: bool = Field(False, description="Whether it was pointed at by hand instead of found in a photo.")


class Steepest(Part):
    """The steepest stretch of a side."""

    one_in: float | None = Field(description="Slope as 1 in this many; null when exactly straight.")
    position_mm: float = Field(description="Middle of the stretch.")


class PhotoUse(Part):
    """What was taken from one photo."""

    file: str = Field(description="Name of the file as given.")
    outline: list[list[float]] | None = Field(
        description="Corners of the side in the upright photo as [column, row] pixels: marked end "
        "upper, far end upper, far end lower, marked end lower. Null when no board was found."
    )
    used_from_mm: float | None = Field(description="Begin of the stretch read from it; null when unused.")
    used_to_mm: float | None = Field(description="End of the stretch read from it; null when unused.")
    problems: list[str] = Field(description="What was not as it should be, as sentences.")


class SideAnswer(Part):
    """What was read on one side."""

    status: Literal["read", "missing", "retake"] = Field(
        description="read: measured; missing: no photo was given; retake: photograph it again."
    )
    status_reason: Reason | None = Field(None, description="Why the side was not read; null when it was.")
    positions_mm: list[float] = Field(default_factory=list, description="Where the angles hold, from the marked end.")
    angle_deg: Numbers = Field(
        default_factory=list,
        description="Angle of the fibre against the board's mid-line; positive rises toward the "
        "top of the side's photo; null where the wood could not be read.",
    )
    line_deg: Numbers = Field(
        default_factory=list,
        description="Angle of the lines one sees (mostly rings), same sign; null where no line was read.",
    )
    angle_error_deg: Numbers = Field(default_factory=list, description="Half-width of the 95 % interval of angle_deg.")
    slope_one_in: Steepest | None = Field(
        None, description="The steepest stretch of the fibre; null when nothing was read."
    )
    pattern: list[Stretch] = Field(
        default_factory=list, description="The side from end to end, by what its grain looks like."
    )
    runoffs: list[RunOff] = Field(
        default_factory=list,
        description="Where nine grain lines, started across the marked end, leave the side.",
    )
    knots: list[Knot] = Field(default_factory=list, description="Knots found.")
    crook_mm: Numbers = Field(
        default_factory=list,
        description="How far the side's mid-line lies above the straight line between its ends, up in its photo.",
    )
    pixels_per_mm: float | None = Field(None, description="What its photo resolved, in the mean.")
    sharpness: float | None = Field(None, description="0 blurred to 1 as sharp as pixels allow.")
    photos: list[PhotoUse] = Field(default_factory=list, description="Its photos and what was used of them.")
