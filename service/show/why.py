"""Why the program says what it says, and what to look at to check it by eye: a few sentences for each code.

What they tell of wood and bows is common practice without a source where none is named. That grain across the length
costs most strength in tension, less in bending and least in compression stands in the Wood Handbook (Forest Products
Laboratory, 2010), section 5.3; that spiral grain shows on the flat-sawn surface in ANC-19 (1943), 2.302, both from
memory.
"""

from collections.abc import Mapping
from typing import Final

from service.language import mark, say

VERDICTS: Final[Mapping[str, str]] = {
    "pass": mark(
        "One stretch as long as the bow keeps to every limit, even when each measured slope is taken at the steep end "
        "of its error. Before you pay, look along all four sides: no line should leave the stretch over a long corner "
        "sooner than told here, and no knot or crack should touch it."
    ),
    "borderline": mark(
        "The best stretch keeps to the limits at one end of the error and breaks them at the other, or something was "
        "not seen. The photo or test asked for below decides it; until then treat the board as one that may break."
    ),
    "fail": mark(
        "Wherever the bow is laid in this board a slope passes its limit even at the mild end of its error, a knot is "
        "in the way, or it does not fit. Look at the place named first: you should see the line run off or the knot."
    ),
    "retake": mark(
        "Wood that was not read is never taken for straight, and without this side too little is left to judge by. "
        "A new photo of this one side is enough; the others are kept."
    ),
}

PARTS: Final[Mapping[str, str]] = {
    "section": mark(
        "Every start along the board was tried, and a narrower bow also a little slanted. Chosen is the stretch whose "
        "worst place uses least of its limit. To check it, lay a straight edge from end to end of the stretch and "
        "follow single lines beside it."
    ),
    "back": mark(
        "The back of a bow is stretched, and there a grain line that runs off the side lifts a splinter; the belly is "
        "pressed together and bears steeper grain. So the face on which the grain runs straighter becomes the back. "
        "Follow lines on both faces: the back should be the one on which fewer leave over the corners."
    ),
    "runoffs": mark(
        "Nine lines, a tenth of the width apart, are followed from one end of the stretch to the other along the "
        "measured slope. Each slope's error adds up on the way, so the places are known to an inch or so. Put a pencil "
        "on a line at the wood and see where it leaves."
    ),
    "margin": mark(
        "How hard a bow works along its length follows from a usual flat shape: most in the inner half of each limb, "
        "little at handle and tips. Steep grain costs strength, most where the wood is stretched. The place with least "
        "to spare is the one to watch while you bend the bow for the first times. The verdict does not rest on this."
    ),
}

_SLOPE: Final = mark(
    "A face shows the grain in one direction, the edges in the other; fibre runs across both, so the two are put "
    "together like the legs of a right angle. It is a mean over three inches, for a short wave does not break a bow. "
    "By eye: follow one line for 20 in (500 mm) and measure how far it rises; 1 in (25 mm) is the usual limit on the "
    "back."
)
_UNSURE: Final = mark(
    "Each slope was measured with an error, and here the limit lies inside it. Neither a yes nor a no would be honest. "
    "A photo from closer shows more lines and makes the error small."
)
_SPIRAL: Final = mark(
    "Lines one sees are mostly rings. A tree can grow twisted, so that its fibres wind round under straight rings, and "
    "a bow splits along the fibres. Fine pores and rays on the flat-sawn side show it, as do a drop of ink that runs "
    "along the pores or a needle that follows them."
)
_UNREAD: Final = mark(
    "Glare, dirt, a sticker or a blurred photo hides the lines, and what cannot be seen is never counted as straight. "
    "The opposite side mirrors it only roughly, so the error there is wide. Wipe the place and look along it."
)
_KNOT: Final = mark(
    "Round a knot the fibres swerve and are cut through, so a limb breaks there first. Dark round spots with a border "
    "that other lines bend round are taken for knots. If it is only a stain or print, say so on the board's page and "
    "read it again."
)
_CATHEDRAL: Final = mark(
    "Where a board is sawn flat through the rings they show as nested V shapes. They come from the saw, not from the "
    "fibre's slope, so they are not counted as slope. Look at the edges: the lines there tell how the fibre dips."
)
_RINGS: Final = mark(
    "A back that follows one ring holds best; where rings run out at the surface each layer ends in a thin tip that "
    "can lift. Look for the tips of long V shapes or of rings that leave over the corners. A backing holds them down."
)
_CROOK: Final = mark(
    "The board's long corners bend sideways, and a bow is laid out along a straight line. Look along an edge with one "
    "eye: how far the middle stands off a stretched thread is the width that is lost."
)
_HAND: Final = mark(
    "This was entered by hand and counts like something that was seen, with a wider error for a line drawn by hand. "
    "Check the side, the place and the direction once more on the board itself."
)
_PHOTO: Final = mark(
    "In the photo of a whole side a grain line is a few pixels wide at best. Where the photo is dark, blurred, small, "
    "glaring, slanted or not of the whole side, lines cannot be told from noise, so nothing is claimed. Look at the "
    "photo enlarged: where your eye can follow no line, the program cannot either."
)
_MIXED_UP: Final = mark(
    "Each long corner is seen from two sides, and knots and rings go round it. What two photos show there does not fit "
    "together as they were named. Roll the board a quarter turn away from you between photos, marked end left."
)

CODES: Final[Mapping[str, str]] = {
    **dict.fromkeys(("within_limits", "slope", "turns_through"), _SLOPE),
    **dict.fromkeys(("slope_unsure", "close_to_limit"), _UNSURE),
    **dict.fromkeys(("spiral_unknown", "fibre_off_rings"), _SPIRAL),
    **dict.fromkeys(("unread", "unreadable", "side_missing", "missing"), _UNREAD),
    "knot": _KNOT,
    **dict.fromkeys(("cathedral", "cathedral_back"), _CATHEDRAL),
    "rings_cut": _RINGS,
    "pith_side_out": mark(
        "On the end the rings are arcs round the middle of the tree. Seen from the end, the side they arch toward is "
        "the bark side; with it as the back the surface meets fewer rings. Straight grain counts more than this."
    ),
    **dict.fromkeys(("crook", "too_crooked"), _CROOK),
    "too_short": mark(
        "The bow's length was compared with the board's, less what is sawn off at the ends and cracks entered by hand. "
        "Measure the board once more. Mind that a shorter bow drawn as far is strained more."
    ),
    **dict.fromkeys(
        ("knot_entered", "no_knot_there", "knot_dismissed", "end_check_entered", "test_entered", "test_unused"), _HAND
    ),
    **dict.fromkeys(("test_contradicts", "test_wrong_side"), _HAND),
    **dict.fromkeys(("same_photo", "same_side", "turned_round", "order", "gap"), _MIXED_UP),
    **dict.fromkeys(("too_dark", "burnt_out", "blurred", "too_small", "grazing", "covered", "end_only"), _PHOTO),
    **dict.fromkeys(("two_boards", "unclear", "no_board", "cut_off", "no_end", "end_unread"), _PHOTO),
    **dict.fromkeys(("other_wood", "other_length", "repeated", "turned_end_for_end"), _MIXED_UP),
}

PHOTO_GROUPS: Final = ("close_", "end_")
"""What a code of a close-up or of the end begins with when that photo was left out."""


def why_code(code: str) -> str:
    """Explain a reason, a warning or an open question.

    Parameters
    ----------
    code
        Its fixed name in the answer.

    Returns
    -------
    str
        Two or three sentences; empty for a code of another version of the program.

    >>> why_code("knot").partition(",")[0], why_code("nothing known")
    ('Round a knot the fibres swerve and are cut through', '')
    """
    known = CODES.get(code) or (_PHOTO if code.startswith(PHOTO_GROUPS) else "")
    return say(known) if known else ""


def why_verdict(verdict: str) -> str:
    """Explain how a verdict comes about.

    >>> why_verdict("retake").partition(",")[0]
    'Wood that was not read is never taken for straight'
    """
    return say(VERDICTS[verdict])


def why_part(part: str) -> str:
    """Explain how the section, the back, the run-offs or the margin are found.

    >>> why_part("back").partition(",")[0]
    'The back of a bow is stretched'
    """
    return say(PARTS[part])
