"""Readers that stand in for the real one, so that the app's own behaviour is seen alone and at once.

They are called in worker processes, so they are plain functions of a module.
"""

import os
import time
from typing import Final

from service.app.readers import Progress
from service.errors import BadPhoto
from service.judge.record import (
    Answer,
    Back,
    Board,
    Question,
    Reason,
    Rings,
    RunOff,
    RunOffsInBow,
    ScorePart,
    Section,
    SideAnswer,
    Steepest,
    Strength,
)
from service.reading import Outcome, Wish
from service.sides import SIDES

PICTURE: Final = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 4"><title>Side</title></svg>'


def answer_for(wish: Wish) -> Answer:
    """Make an answer with every part filled in, out of what was asked alone."""
    read = SideAnswer(
        status="read",
        positions_mm=[0.0, 10.0],
        angle_deg=[1.0, None],
        angle_error_deg=[0.3, None],
        slope_one_in=Steepest(one_in=25.0, position_mm=300.0),
        runoffs=[RunOff(position_mm=500.0, over="edge_1", slope=0.04, line=1, position_error_mm=20.0)],
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
        sides={side: read if side in wish.photos else missing for side in SIDES},
        rings=Rings(pith_mm=None, tilt_deg=12.0, error_deg=4.0, sources=["end"], sawing="flat"),
        combined_slope=None,
        combined_slope_reason="Not part of this stand-in.",
        section=Section(
            start_mm=254.0,
            end_mm=254.0 + wish.bow_length_mm,
            offset_start_mm=0.0,
            offset_end_mm=0.0,
            worst_slope=0.04,
            worst_position_mm=508.0,
            why="Steepest wood left out.",
        ),
        back=Back(face="face_2", sure=True, why="Face 2 is straighter."),
        runoffs_in_bow=RunOffsInBow(
            back=[], belly=[RunOff(position_mm=500.0, over="edge_1", slope=0.04, line=1, position_error_mm=20.0)]
        ),
        strength=Strength(low=0.82, high=0.93, sources=["a source"]),
        open_questions=[Question(code="spiral", text="The spiral is not known.", photo="A close-up of face 1.")],
        cautions=["A bow can break."],
    )


def read_at_once(wish: Wish, progress: Progress) -> Outcome:
    """Answer at once."""
    for side in wish.photos:
        progress(f"Reading {side}")
    return Outcome(answer_for(wish), dict.fromkeys(wish.photos, PICTURE))


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
