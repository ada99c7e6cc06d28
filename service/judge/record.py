"""The answer: one record, the same for the pages, the JSON API and the command line.

Positions are millimetres from the marked end, angles degrees (positive: the grain rises toward
the top of that side's photo), slopes plain ratios. A field that is not known is null and says why
in the field beside it.
"""

from typing import Literal

from pydantic import ConfigDict, Field

from service.judge.record_side import Numbers, Part, Reason, RunOff, Side, SideAnswer


class Question(Part):
    """Something the photos did not tell, and the photo or test that would."""

    code: str = Field(description="Short fixed name of the question, for programs.")
    text: str = Field(description="What is not known, as a sentence.")
    photo: str = Field(description="The photo or the test at the bench that would answer it.")
    shots: list[str] = Field(
        default_factory=list,
        description="Where that photo belongs, as photo fields are named: a side, close_ and a side, or end.",
    )
    test_side: Side | None = Field(None, description="The side on which an ink or scribe test would answer it too.")


class Board(Part):
    """The board as the user gave it."""

    length_mm: float = Field(description="Length.")
    width_mm: float = Field(description="Width, across a face.")
    thickness_mm: float = Field(description="Thickness, across an edge.")
    nominal: str | None = Field(None, description="Store size it was picked by, such as 1x2.")
    species: str | None = Field(None, description="Wood, when the user named it.")


class Rings(Part):
    """How the growth rings lie in the board's cross-section."""

    pith_mm: tuple[float, float] | None = Field(
        description="Middle of the tree in the cross-section: y up in face 1's photo from its lower "
        "corner, z out of face 1 from face 2; null when it is too far away to tell."
    )
    tilt_deg: float = Field(description="Angle between the ring normal and face 1's normal at the middle, 0 to 90.")
    error_deg: float = Field(description="Half-width of the 95 % interval of tilt_deg.")
    sources: list[Literal["end", "spacing", "slopes"]] = Field(
        alias="from", serialization_alias="from", description="What it was read from."
    )
    sawing: Literal["flat", "rift", "quarter"] = Field(description="How the board was sawn out of the tree.")

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class CombinedSlope(Part):
    """Slope of the fibre in space: faces and edges together."""

    positions_mm: list[float] = Field(description="Where the slopes hold.")
    slope: Numbers = Field(description="Combined slope, rise over length; null where unread.")
    slope_upper: Numbers = Field(description="Upper end of its 95 % interval.")
    slope_lower: Numbers = Field(description="Lower end of its 95 % interval.")
    diagonal: Numbers = Field(description="Part of it in which the rings themselves run across the length.")
    spiral: Numbers = Field(description="Part of it in which the fibre turns within the ring surface.")
    spiral_seen: bool = Field(
        description="Whether the fibre itself was seen, in a photo or by a test; if not, spiral is unknown."
    )
    spiral_from: list[Literal["closeup", "ink", "scribe"]] = Field(
        default_factory=list,
        description="What showed the fibre: close-up photos, or an ink or scribe test entered by hand; empty when "
        "nothing did.",
    )


class Section(Part):
    """A bow-length stretch to cut out of the board."""

    start_mm: float = Field(description="Where it begins.")
    end_mm: float = Field(description="Where it ends.")
    back_face: Literal["face_1", "face_2"] = Field(description="The face it was judged to have as its back.")
    offset_start_mm: float = Field(
        description="Its centre line above the board's at its start, up in the photo of back_face."
    )
    offset_end_mm: float = Field(description="The same at its end.")
    worst_slope: float | None = Field(description="Steepest combined slope in it; null when it holds unread wood.")
    worst_position_mm: float | None = Field(description="Where that is.")
    width_mm: float = Field(description="Width of the bow it was judged for, at the widest.")
    starts_from_mm: float = Field(description="Every start from here ...")
    starts_to_mm: float = Field(description="... to here is as good as start_mm.")
    limit_used: float = Field(description="Share of a limit used at the worst place, as measured; 1 is at the limit.")
    limit_used_upper: float = Field(description="The same at the far end of the error; a pass has 1 at most.")
    why: str = Field(description="Why this stretch.")


class Back(Part):
    """The face to make the back of the bow."""

    face: Literal["face_1", "face_2"] = Field(description="The face.")
    sure: bool = Field(description="False when the faces differ by less than the error, so that either may serve.")
    why: str = Field(description="Why this face.")
    lower_limb: Literal["marked", "far", "either"] = Field(
        description="The end of the section, toward the board's marked or far end, to make the bow's lower limb."
    )
    lower_limb_why: str = Field(description="Why this end.")
    warnings: list[Reason] = Field(
        default_factory=list, description="What speaks against this face: cathedral figure, pith side out, rings cut."
    )


class RunOffsInBow(Part):
    """Grain lines that leave inside the bow's outline."""

    back: list[RunOff] = Field(description="On the back.")
    belly: list[RunOff] = Field(description="On the belly.")


class Spread(Part):
    """A range over the published sources, as shares of 1."""

    low: float = Field(description="Lower end.")
    high: float = Field(description="Upper end.")


class Strength(Part):
    """What the worst slope leaves of straight-grained strength; published sources disagree, so each is a range."""

    slope: float = Field(description="The slope it is told for: the steepest combined slope, rise over length.")
    bending: Spread = Field(description="Of the modulus of rupture in bending.")
    tension: Spread = Field(description="Of the strength in tension along the grain, which the back needs.")
    impact: Spread = Field(description="Of the strength under a blow.")
    sources: list[str] = Field(description="The sources.")


class Margin(Part):
    """Along the section: how hard the bow works there, and what the slope there leaves of the wood's strength.

    It decides nothing: the verdict rests on the plain limits alone.
    """

    positions_mm: list[float] = Field(description="Where the numbers hold.")
    strain_share: list[float] = Field(description="Strain of the bow's surface there as a share of its peak, 0 to 1.")
    strength_low: list[float] = Field(
        description="Least that the slope on the back leaves of straight-grained tension strength there, with the "
        "error of the reading, as a share of 1."
    )
    strength_high: list[float] = Field(description="Most that it leaves, as measured.")
    least: float = Field(
        description="Least of strength_low over strain_share: what is left for each part of the peak strain."
    )
    least_position_mm: float = Field(description="Where that is.")
    text: str = Field(description="The margin in words: whether the worst slope lies where the bow works hard.")


class LimitTold(Part):
    """A limit the section was held to."""

    name: str = Field(description="Fixed name, for programs.")
    value: float = Field(description="The value that held.")
    default: float = Field(description="The value that holds when nothing is changed.")
    unit: str = Field(description="Unit of both.")
    text: str = Field(description="The value as people say it.")
    reason: str = Field(description="What it is and why it has this default.")
    source: str = Field(description="Where the default comes from, or that it is common practice.")


class Comparator(Part):
    """What others demand of the slope of grain, to compare with."""

    use: str = Field(description="Of what it is demanded.")
    slope: float = Field(description="The steepest slope allowed, rise over length.")
    source: str = Field(description="Where that is published.")


class LimitsTold(Part):
    """The limits, why they are as they are, and what to compare them with."""

    purpose: str = Field(description="What the bow is meant for: it sets the slopes.")
    tolerance: str = Field(description="How strictly the slopes are taken.")
    items: list[LimitTold] = Field(description="Every limit, in the order of its weight.")
    comparators: list[Comparator] = Field(description="Slopes allowed elsewhere.")


class EndCheck(Part):
    """A crack at an end of the board, entered by hand; the bow stays clear of it."""

    end: Literal["marked", "far"] = Field(description="Which end.")
    length_mm: float = Field(description="How far it reaches into the board.")


class ScorePart(Part):
    """One part of the score."""

    name: str = Field(description="What it counts.")
    points: float = Field(description="Points given.")
    out_of: float = Field(description="Points there are.")


class Answer(Part):
    """Can a bow come out of this board, which stretch of it, which way round, and how sure are we."""

    verdict: Literal["pass", "borderline", "fail", "retake"] = Field(
        description="pass: take it; borderline: cannot tell yet, or close to a limit; fail: leave it; "
        "retake: a side could not be read, photograph that side again."
    )
    score: float = Field(description="0 to 100; a worse board never scores higher.")
    score_parts: list[ScorePart] = Field(description="What the score is made of.")
    reasons: list[Reason] = Field(description="Why, most important first; never empty.", min_length=1)
    board: Board = Field(description="The board as given.")
    bow_length_mm: float = Field(description="The bow length asked for.")
    bow_width_mm: float | None = Field(
        None, description="The bow width asked for; null when none was, then the bow is as wide as the board."
    )
    limits: LimitsTold = Field(description="The limits the board was held to.")
    end_checks: list[EndCheck] = Field(default_factory=list, description="Cracks at the ends, entered by hand.")
    sides: dict[Side, SideAnswer] = Field(description="The four sides.")
    rings: Rings | None = Field(description="How the growth rings lie; null when they could not be told.")
    rings_reason: str | None = Field(None, description="Why rings is null.")
    combined_slope: CombinedSlope | None = Field(
        description="Slope of the fibre in space; null when face or edge is unread."
    )
    combined_slope_reason: str | None = Field(None, description="Why combined_slope is null.")
    section: Section | None = Field(description="The stretch to cut out; null when there is none.")
    section_reason: str | None = Field(None, description="Why section is null.")
    alternatives: list[Section] = Field(
        default_factory=list, description="Other stretches worth considering, best first."
    )
    two_bows: list[Section] = Field(
        default_factory=list,
        description="Two stretches for two such bows, one after the other; empty when two do not fit.",
    )
    back: Back | None = Field(description="Which face becomes the back; null when not both faces were read.")
    back_reason: str | None = Field(None, description="Why back is null.")
    runoffs_in_bow: RunOffsInBow | None = Field(
        description="Grain lines that leave inside the bow; null without a section and a back."
    )
    runoffs_in_bow_reason: str | None = Field(None, description="Why runoffs_in_bow is null.")
    strength: Strength | None = Field(
        description="What the worst slope leaves of straight-grained strength, as a range."
    )
    strength_reason: str | None = Field(None, description="Why strength is null.")
    margin: Margin | None = Field(
        description="How hard the bow works along the section against what its slopes leave of strength."
    )
    margin_reason: str | None = Field(None, description="Why margin is null.")
    open_questions: list[Question] = Field(
        default_factory=list, description="What the photos did not tell; empty when nothing more is needed."
    )
    cautions: list[str] = Field(description="What to mind before wood is cut or bent.")
