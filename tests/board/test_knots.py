"""Which dark places of four sides are knots."""

import pytest

from service.board.knots import ALONE, settle_knots
from service.grain.types import KnotBox, KnotSign
from service.sides import SIDES


def sign(from_mm: float, log_odds: float) -> KnotSign:
    """Make a dark place half an inch long."""
    return KnotSign(KnotBox(from_mm, from_mm + 12.0, 5.0, 15.0), log_odds)


@pytest.mark.parametrize("other", ["edge_1", "face_2", "edge_2"])
def test_doubtful_places_that_meet_are_a_knot(other: str) -> None:
    """Two doubtful places at one position on two sides are both a knot; far apart neither is."""
    none: dict[str, list[KnotSign]] = {side: [] for side in SIDES}
    met = settle_knots({**none, "face_1": [sign(700.0, 0.0)], other: [sign(703.0, 0.0)]})
    missed = settle_knots({**none, "face_1": [sign(700.0, 0.0)], other: [sign(760.0, 0.0)]})

    assert len(met["face_1"]) == len(met[other]) == 1
    assert missed["face_1"] == missed[other] == ()


def test_a_sure_place_needs_no_partner() -> None:
    """A place likely enough by itself is a knot, wherever the other sides are clear."""
    none: dict[str, list[KnotSign]] = {side: [] for side in SIDES}

    assert len(settle_knots({**none, "edge_2": [sign(700.0, ALONE)]})["edge_2"]) == 1


def test_less_must_do_where_few_sides_were_read() -> None:
    """A place that four clear sides would make doubtful counts when only one other side was read."""
    doubtful = [sign(700.0, 1.0)]
    four = {side: doubtful if side == "face_1" else [] for side in SIDES}

    assert settle_knots(four)["face_1"] == ()
    assert len(settle_knots({"face_1": doubtful, "edge_1": []})["face_1"]) == 1


def test_the_marked_end_has_no_partners() -> None:
    """Tape round the marked end shows on all sides and makes no knot."""
    assert settle_knots({side: [sign(10.0, 0.0)] for side in SIDES}) == dict.fromkeys(SIDES, ())


def test_overlapping_photos_show_a_knot_once() -> None:
    """A knot in two photos of a side is one knot, boxed where it was seen best."""
    seen = settle_knots({"face_1": [sign(700.0, 3.0), sign(704.0, 2.5)]})["face_1"]

    assert [knot.from_mm for knot in seen] == [700.0]
