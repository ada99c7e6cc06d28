"""Readers that stand in for the real one, so that the app's own behaviour is seen alone and at once.

They are called in worker processes, so they are plain functions of a module.
"""

import os
import time
from dataclasses import replace
from typing import Final

from service.app.workers.checks import PhotoAsked
from service.app.workers.readers import Progress
from service.checking import CheckReason, PhotoCheck
from service.errors import BadPhoto
from service.judge.record import (
    Answer,
    Back,
    Board,
    Comparator,
    EndCheck,
    LimitsTold,
    LimitTold,
    Margin,
    Question,
    Rings,
    RunOffsInBow,
    ScorePart,
    Section,
    Spread,
    Strength,
)
from service.judge.record_side import Knot, Reason, RunOff, SideAnswer, Steepest
from service.reading import Outcome, Wish
from service.show.close_look import close_name
from service.show.worst_place import PLACE
from service.sides import SIDES

PICTURE: Final = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 4"><title>Side</title></svg>'


BOW_WIDTH_MM: Final = 31.75


def section_from(start_mm: float, length_mm: float, why: str) -> Section:
    """Make a section of a bow narrower than the board, lying aslant in it."""
    return Section(
        start_mm=start_mm,
        end_mm=start_mm + length_mm,
        back_face="face_1",
        offset_start_mm=3.175,
        offset_end_mm=-1.5875,
        worst_slope=0.04,
        worst_position_mm=508.0,
        width_mm=BOW_WIDTH_MM,
        starts_from_mm=start_mm - 25.4,
        starts_to_mm=start_mm + 50.8,
        limit_used=0.8,
        limit_used_upper=1.1,
        why=why,
    )


def margin_from(start_mm: float, length_mm: float) -> Margin:
    """Make the margin of a bow whose handle hardly works and whose grain is steepest in one limb."""
    return Margin(
        positions_mm=[start_mm + share * length_mm for share in (0.0, 0.25, 0.5, 0.75, 1.0)],
        strain_share=[0.0, 1.0, 0.2, 1.0, 0.0],
        strength_low=[0.9, 0.75, 0.8, 0.85, 0.9],
        strength_high=[0.95, 0.85, 0.9, 0.95, 1.0],
        least=0.75,
        least_position_mm=start_mm + 0.25 * length_mm,
        text="The steepest grain lies where the bow works hardest. The verdict rests on the plain limits.",
    )


def limits_for_standins() -> LimitsTold:
    """Make two limits, the first of which was changed, and one to compare them with."""
    back = LimitTold(
        name="back_slope",
        value=0.0625,
        default=0.05,
        unit="rise over length",
        text="1 in 16 (3.6 deg)",
        reason="Steepest slope on the back.",
        source="A book.",
    )
    trim = LimitTold(
        name="end_trim_mm",
        value=25.4,
        default=25.4,
        unit="mm",
        text="1 in (25 mm)",
        reason="Wood sawn off at either end.",
        source="common practice, no source",
    )
    elsewhere = Comparator(use="Ladder rails", slope=1 / 12, source="A standard.")
    return LimitsTold(purpose="unbacked", tolerance="lenient", items=[back, trim], comparators=[elsewhere])


def answer_for(wish: Wish) -> Answer:
    """Make an answer with every part filled in, out of what was asked alone."""
    read = SideAnswer(
        status="read",
        positions_mm=[0.0, 10.0],
        angle_deg=[1.0, None],
        angle_error_deg=[0.3, None],
        slope_one_in=Steepest(one_in=25.0, position_mm=300.0),
        runoffs=[RunOff(position_mm=500.0, over="edge_1", slope=0.04, line=1, position_error_mm=20.0)],
        knots=[Knot(from_mm=2032.0, to_mm=2042.0, across_from_mm=0.0, across_to_mm=12.7, by_hand=True)],
    )
    missing = SideAnswer(status="missing", status_reason=Reason(code="missing", text="No photo was given."))
    return Answer(
        verdict="borderline",
        score=61.5,
        score_parts=[ScorePart(name="slope", points=61.5, out_of=100.0)],
        reasons=[Reason(code="near_limit", text="The slope on the back is close to its limit.")],
        board=Board(
            length_mm=wish.size.length_mm,
            width_mm=wish.size.width_mm,
            thickness_mm=wish.size.thickness_mm,
            nominal=wish.nominal,
            species=wish.species,
        ),
        bow_length_mm=wish.bow_length_mm,
        bow_width_mm=BOW_WIDTH_MM,
        limits=limits_for_standins(),
        end_checks=[EndCheck(end="marked", length_mm=50.8)],
        sides={side: read if side in wish.photos else missing for side in SIDES},
        rings=Rings(pith_mm=None, tilt_deg=12.0, error_deg=4.0, sources=["end"], sawing="flat"),
        combined_slope=None,
        combined_slope_reason="Not part of this stand-in.",
        section=section_from(254.0, wish.bow_length_mm, "Steepest wood left out."),
        two_bows=[section_from(start_mm, 1000.0, "One of two.") for start_mm in (100.0, 1200.0)],
        back=Back(
            face="face_2",
            sure=True,
            why="Face 2 is straighter.",
            lower_limb="far",
            lower_limb_why="The half toward the far end is straighter.",
            warnings=[Reason(code="rings_cut", text="Ring lines are cut through on the back.")],
        ),
        runoffs_in_bow=RunOffsInBow(
            back=[], belly=[RunOff(position_mm=500.0, over="edge_1", slope=0.04, line=1, position_error_mm=20.0)]
        ),
        strength=Strength(
            slope=0.04,
            bending=Spread(low=0.89, high=0.96),
            tension=Spread(low=0.71, high=0.9),
            impact=Spread(low=0.7, high=0.85),
            sources=["a source"],
        ),
        margin=margin_from(254.0, wish.bow_length_mm),
        open_questions=[Question(code="spiral", text="The spiral is not known.", photo="A close-up of face 1.")],
        cautions=["A bow can break."],
    )


def check_at_once(asked: PhotoAsked, _: Progress) -> PhotoCheck:
    """Find every photo good, unless its name says that it is blurred."""
    blurred = "blurred" in asked.upload.name
    reason = CheckReason(code="blurred", text="The photo is blurred. Hold still.")
    return PhotoCheck(
        file=asked.upload.name,
        usable=not blurred,
        reasons=[reason] if blurred else [],
        advice=[],
        outline=None,
        pixels_across=None,
        pixels_per_mm=None,
        finest_mm=None,
        sharpness=None,
    )


def read_by_length(wish: Wish, progress: Progress) -> Outcome:
    """Answer the better the longer the board is: 8 ft pass, 7 ft are not sure yet, the rest is left."""
    outcome = read_at_once(wish, progress)
    verdict = "pass" if wish.size.length_mm > 2400 else "borderline" if wish.size.length_mm > 2100 else "fail"
    return replace(outcome, answer=outcome.answer.model_copy(update={"verdict": verdict}))


def read_at_once(wish: Wish, progress: Progress) -> Outcome:
    """Answer at once."""
    for side in wish.photos:
        progress(f"Reading {side}")
    looks = dict.fromkeys((*map(close_name, wish.photos), PLACE), PICTURE)
    return Outcome(answer_for(wish), dict.fromkeys((*wish.photos, "margin"), PICTURE), looks)


def read_slowly(wish: Wish, progress: Progress) -> Outcome:
    """Answer after a moment."""
    progress("Reading slowly")
    time.sleep(1.0)
    return read_at_once(wish, progress)


def read_for_ever(wish: Wish, progress: Progress) -> Outcome:
    """Never answer, unless the wood is named oak."""
    if wish.species == "oak":
        return read_at_once(wish, progress)
    progress("Reading for ever")
    while True:
        time.sleep(0.1)


def die(wish: Wish, progress: Progress) -> Outcome:
    """End the process like a crash would, unless the wood is named oak."""
    if wish.species == "oak":
        return read_at_once(wish, progress)
    os._exit(9)


def refuse(wish: Wish, _: Progress) -> Outcome:
    """Refuse the first photo."""
    raise BadPhoto(f"{next(iter(wish.photos.values()))[0].name} is no photo that can be opened.", "face_1")


def stumble(_: Wish, __: Progress) -> Outcome:
    """Fail the way a fault in the program does."""
    raise ZeroDivisionError("secret.jpg")
