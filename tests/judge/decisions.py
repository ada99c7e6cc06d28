"""Ten made-up boards, each with the decision a careful bow maker would come to and why.

What the person says is written down from the trade's rules, before and apart from what the program says: along a
bow's back grain may cross no more than 1 in 20, on the belly 1 in 12 (C. Duff, Bows and Arrows, 1927, ch. IV: not
across the bow in less than 15 in); knots are kept out, bad ends stay behind, unseen wood is no good wood (common
practice, no source). The boards are named after the weather Marit Ollenby carried them home in.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from service.board.types import BoardReading, RingReading
from service.grain.types import KnotBox
from service.judge.judge import judge
from service.judge.record import Answer
from service.sides import BoardSize
from tests.judge.made import bump, change_side, make_reading

IN = 25.4


@dataclass(frozen=True)
class Decision:
    """A board, what is wanted of it, and what a person decides.

    Attributes
    ----------
    verdict
        "pass", "borderline" or "fail".
    says, why
        The decision in the person's words, and the reason.
    holds
        What else must be true of the program's answer, in its own terms.
    """

    name: str
    reading: BoardReading
    bow_in: float
    width_in: float | None
    verdict: str
    says: str
    why: str
    holds: Callable[[Answer], bool]

    def answer(self) -> Answer:
        """Judge the board."""
        width_mm = None if self.width_in is None else self.width_in * IN
        return judge(self.reading, self.bow_in * IN, bow_width_mm=width_mm)


def _board(slopes: dict[str, object], length_in: float, width_in: float, **more: object) -> BoardReading:
    reading = make_reading(slopes, length_mm=length_in * IN, **more)  # type: ignore[arg-type]
    return replace(reading, size=BoardSize(length_in * IN, width_in * IN, 19.0))


def _places(length_in: float) -> np.ndarray:
    return make_reading(length_mm=length_in * IN).positions_mm


def _flat_rings(normal_z: float) -> RingReading:
    """Lay rings flat; the pith is behind face 2 when the normal points out of face 1."""
    return RingReading(None, (0.0, normal_z), 5.0, 3.0, ("end",), "flat")


def _figured() -> BoardReading:
    """Make a flat-sawn board whose bark side, face 1, carries V shapes all along and has the straighter fibre."""
    reading = _board({"face_1": 0.012, "face_2": -0.04, "edge_1": 0.01}, 76, 1.5, rings=_flat_rings(1.0))
    return change_side(reading, "face_1", cathedral=np.ones(reading.positions_mm.shape, dtype=bool))


def _steep_far_end() -> BoardReading:
    """Make a board that is straight for 76 in; then the grain dives off the face."""
    places_mm = _places(96)
    return _board({"face_1": 0.01 + 0.11 / (1 + np.exp(-(places_mm - 80 * IN) / 40)), "edge_1": 0.012}, 96, 1.5)


def _forgiven_belly() -> BoardReading:
    """Make a straight board with a wave of 1 in 14 on face 1 alone, in its middle."""
    wave = bump(_places(72), 30 * IN, 60.0, 0.075)
    return _board({"face_1": 0.005 + wave, "face_2": 0.008, "edge_1": 0.01}, 72, 1.5)


def _knotty() -> BoardReading:
    reading = _board({"face_1": 0.012, "edge_1": -0.01}, 120, 1.5)
    knot = KnotBox(40 * IN, 40 * IN + 14, 8.0, 20.0)
    return change_side(reading, "face_1", knots=(knot,))


def _started(answer: Answer) -> float:
    return -1.0 if answer.section is None else answer.section.start_mm / IN


def _codes(answer: Answer) -> set[str]:
    return {reason.code for reason in answer.reasons} | {question.code for question in answer.open_questions}


def _slant(answer: Answer) -> float:
    section = answer.section
    return 0.0 if section is None else abs(section.offset_end_mm - section.offset_start_mm)


DECISIONS = (
    Decision(
        "Clear noon", _board({"face_1": 1 / 60, "edge_1": 1 / 80}, 76, 1.5), 68, None, "pass",
        "Take it; either face may be the back.",
        "1 in 60 and 1 in 80 make 1 in 48, far inside 1 in 20, and both faces are alike.",
        lambda answer: answer.back is not None and not answer.back.sure,
    ),
    Decision(
        "First gust", _steep_far_end(), 68, None, "pass",
        "Take it, cut the bow from the marked end's side and leave the far end behind.",
        "From 72 in on the grain runs off; a 68 in bow fits before that.",
        lambda answer: 0 <= _started(answer) <= 6 and answer.section is not None and answer.section.end_mm < 75 * IN,
    ),
    Decision(
        "Slanting rain", _board({"face_1": 1 / 17}, 80, 3.5), 68, 1.5, "pass",
        "Take it and lay the stave slantwise along the grain.",
        "1 in 17 is too steep for the back, but in a 1x4 a 1-1/2 in stave can follow it by an inch and more.",
        lambda answer: _slant(answer) > IN / 2,
    ),
    Decision(
        "Sleet", _board({"face_1": 1 / 17}, 80, 1.5), 68, 1.5, "fail",
        "Leave it.",
        "The same grain in a 1x2: no room to slant, and a shorter bow has the same grain.",
        lambda answer: "slope" in _codes(answer) and answer.alternatives == [],
    ),
    Decision(
        "Cross wind", _board({"face_1": 1 / 30, "edge_1": 1 / 20}, 76, 1.5), 68, None, "fail",
        "Leave it.",
        "Neither side alone looks bad, but 1 in 30 on the face and 1 in 20 on the edge make 1 in 16 2/3 (ANC-19, 1943, "
        "2.302, worked example).",
        lambda answer: "slope" in _codes(answer),
    ),
    Decision(
        "Late shower", _forgiven_belly(), 66, None, "pass",
        "Take it with face 2 as the back; the wave on face 1 goes to the belly.",
        "1 in 14 is too much for a back and still all right where the wood is only pressed.",
        lambda answer: answer.back is not None and answer.back.face == "face_2" and answer.back.sure,
    ),
    Decision(
        "Hail", _knotty(), 68, None, "pass",
        "Take it and cut behind the knot.",
        "The knot sits at 40 in of 120: behind it 79 in are clear.",
        lambda answer: _started(answer) > 40.5,
    ),
    Decision(
        "Long thaw", _board({"face_1": 1 / 50, "edge_1": 1 / 70}, 144, 1.5), 68, None, "pass",
        "Take it: two bows come out of it.",
        "Twelve feet of even, straight grain hold twice 68 in and a saw cut.",
        lambda answer: len(answer.two_bows) == 2
        and answer.two_bows[1].start_mm >= answer.two_bows[0].end_mm + 3.0 - 0.2,
    ),
    Decision(
        "Morning haze", _board({"face_1": 1 / 60, "edge_1": 1 / 80}, 76, 1.5, spiral_seen=False), 68, None,
        "borderline",
        "Look closer before buying: draw an ink line or take a close-up.",
        "Ring lines look straight, but nobody has seen yet where the fibre itself runs (ANC-19, 1943, p. 105).",
        lambda answer: "spiral_unknown" in _codes(answer),
    ),
    Decision(
        "Painted sky", _figured(), 68, None, "pass",
        "Take it; face 1 as the back, and mind the figure: think of backing.",
        "Its fibre is the straighter on face 1, but the V shapes there are rings cut open.",
        lambda answer: answer.back is not None
        and answer.back.face == "face_1"
        and {warning.code for warning in answer.back.warnings} >= {"cathedral_back"},
    ),
)  # fmt: skip


def print_decisions() -> None:
    """Print each board with the person's decision, its reason, and what the program says."""
    agreed = 0
    for decision in DECISIONS:
        answer = decision.answer()
        right = answer.verdict == decision.verdict and decision.holds(answer)
        agreed += right
        where = (
            "no section" if answer.section is None else f"{_started(answer):.1f} to {answer.section.end_mm / IN:.1f} in"
        )
        back = "no back" if answer.back is None else f"{answer.back.face}{'' if answer.back.sure else ' or the other'}"
        print(f"{decision.name}: {decision.says} {decision.why}")
        print(f"    program: {answer.verdict}, score {answer.score:.0f}, {where}, {back}; {answer.reasons[0].text}")
        print(f"    {'agrees' if right else 'DIFFERS'}")
    print(f"{agreed} of {len(DECISIONS)} agree.")
