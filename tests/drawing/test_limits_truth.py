"""The right answer, worked out by brute force, agrees with cases that can be worked out by hand."""

import json
from pathlib import Path

import numpy as np
import pytest

from service.sides import SIDES
from tests.drawing.checks import flat
from tests.drawing.limits_truth import STEP_MM, every_section, limits_truth
from tests.drawing.solid import Knot


def test_limits_truth_of_an_even_board_is_slope_over_limit() -> None:
    """Even 1 in 40 against the back's 1 in 20 uses half the limit and passes; 1 in 10 uses twice and fails."""
    gentle = limits_truth(flat(((0.0, 1 / 40),)), 1727.2)
    assert (gentle["answer"], gentle["because"]) == ("pass", "ok")
    assert gentle["share_of_limit_used"] == pytest.approx(0.5, abs=0.02)
    steep = limits_truth(flat(((0.0, 0.1),)), 1727.2)
    assert (steep["answer"], steep["because"]) == ("fail", "slope")
    assert steep["share_of_limit_used"] == pytest.approx(2.0, abs=0.06)


def test_limits_truth_keeps_off_a_steep_end() -> None:
    """With the last 500 mm at 1 in 8 the section must end before them."""
    bad_end = flat(((0.0, 0.01), (1850.0, 0.01), (1950.0, 0.125), (2438.4, 0.125)))
    truth = limits_truth(bad_end, 1727.2)
    assert truth["answer"] == "pass"
    assert truth["starts_mm"][0] == 0.0
    assert truth["starts_mm"][1] < 1950.0 - 1727.2
    assert limits_truth(bad_end, 2200.0)["answer"] == "fail"


def test_limits_truth_counts_knots_and_length() -> None:
    """A knot in the middle of 8 ft leaves a 44 in section but none of 68 in; a bow longer than the board fits not."""
    knotty = flat(((0.0, 0.01),), knots=(Knot(1219.0, 19.0, 9.0, (0.0, 1.0), 4.0),))
    assert limits_truth(knotty, 1727.2)["because"] == "knot"
    assert limits_truth(knotty, 1117.6)["answer"] == "pass"
    assert limits_truth(knotty, 2500.0)["because"] == "too_short"


def test_limits_truth_takes_slopes_against_the_sections_own_line() -> None:
    """A board bent as its fibres are is as straight as a straight one within its own arc's small rest."""
    bent = flat(((0.0, 0.0),), crook_mm=20.0)
    # The arc's mid-line slopes from +4h/L to -4h/L: 0.0328 at its ends, against a chord of slope 0.
    expected = 4 * 20.0 / 2438.4 * (1 - 76.0 / 2 / 2438.4) / 0.05
    assert limits_truth(bent, 2436.0)["share_of_limit_used"] == pytest.approx(expected, abs=0.02)


def test_brute_force_agrees_with_boards_rendered_elsewhere() -> None:
    """From the slopes stated for boards rendered elsewhere follow the answers stated with them, within 1.5 %.

    The margin is for their slopes, stated every half inch only, and for their coarser grid of starts.
    """
    shared = Path(__file__).parents[3] / "shared" / "boards"
    if not shared.is_dir():
        pytest.skip("no boards rendered elsewhere lie beside this clone")
    compared = 0
    for file in sorted(shared.glob("*/truth.json")):
        truth = json.loads(file.read_text())
        along = np.arange(0.0, truth["length_mm"] + 1e-6, STEP_MM)
        slopes, crooks, spans = {}, {}, []
        for side in SIDES:
            stated = truth["sides"][side]
            angle_deg = np.interp(along, stated["positions_mm"], np.array(stated["angle_deg"], float))
            slopes[side] = np.tan(np.radians(angle_deg))
            crooks[side] = np.interp(along, stated["positions_mm"], stated["crook_mm"])
            spans += [(knot["from_mm"], knot["to_mm"]) for knot in stated["knots"]]
        for bow, answer in truth["default_limits_truth"].items():
            sections = every_section(slopes, crooks, spans, float(bow.removesuffix("in")) * 25.4)
            assert bool(sections) is (answer["because"] not in ("knot", "too_short"))
            if sections:
                best = min(sections.values(), key=lambda shares: min(shares.values()))
                assert min(best.values()) == pytest.approx(answer["share_of_limit_used"], rel=0.015)
                assert min(best, key=lambda face: best[face]) == answer["back"]
                compared += 1
    assert compared >= 8
