"""Where a bow works, against elementary beams, a bow of 1942 and what every bowyer knows of handle and tips."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.judge.shape import BowShape
from service.judge.strain import HANDLE_DEPTH, HARD_SHARE, depth_share, moment_share, strain_share, works_hard

# C. Stemmler's flat bow of 1942 (archerylibrary.com): 5 ft 6 in long, 1-1/2 in wide, 5/8 in deep in the limb and
# 1-1/2 in at the handle, narrowing over the last 18 in to 1/2 in.
IN_MM = 25.4
FLAT_BOW = BowShape(66 * IN_MM, 1.5 * IN_MM, taper_mm=18 * IN_MM, tip_mm=0.5 * IN_MM)

many = settings(max_examples=100, deadline=None)


@st.composite
def shapes(draw: st.DrawFn) -> BowShape:
    """Make up a bow: any length and width a person could draw, handle and fades of a few inches."""
    width_mm = draw(st.floats(25.0, 80.0))
    return BowShape(
        length_mm=draw(st.floats(1000.0, 2000.0)),
        width_mm=width_mm,
        handle_mm=draw(st.floats(0.0, 250.0)),
        fade_mm=draw(st.floats(10.0, 100.0)),
        taper_mm=draw(st.floats(100.0, 900.0)),
        tip_mm=draw(st.floats(5.0, 20.0)),
    )


def test_the_handle_of_the_1942_bow_is_as_deep_as_published() -> None:
    """A riser of 1-1/2 in over a limb of 5/8 in is 2.4 times as deep (Stemmler 1942)."""
    assert pytest.approx(1.5 / 0.625) == HANDLE_DEPTH
    assert depth_share(FLAT_BOW, np.array([0.5 * FLAT_BOW.length_mm]))[0] == pytest.approx(1.5 / 0.625)


def test_strain_of_the_1942_bow_by_hand() -> None:
    """Worked by hand from 6 M / (E w t^2): moment by distance from the tip, width and depth as published.

    9 in from the tip the bow is 1 in wide: 9 / 1 against 29 / 1.5 where the limb meets the fade. In the
    middle of the fade, 30 in from the tip, it is 1.7 times as deep.
    """
    along_mm = np.array([9.0, 18.0, 24.0, 29.0, 30.0, 33.0]) * IN_MM
    by_hand = np.array([9 / 1.0, 18 / 1.5, 24 / 1.5, 29 / 1.5, 30 / 1.5 / 1.7**2, 33 / 1.5 / 2.4**2]) / (29 / 1.5)

    assert strain_share(FLAT_BOW, along_mm) == pytest.approx(by_hand, abs=1e-9)


def test_an_evenly_tapered_limb_is_evenly_strained() -> None:
    """A limb that narrows evenly to a point bends to an even strain.

    The cantilever of uniform strength (textbook, from memory); bowyers call such limbs pyramid limbs.
    """
    pyramid = BowShape(1700.0, 50.0, taper_mm=2000.0, tip_mm=0.0)
    along_mm = np.linspace(0.0, pyramid.limb_mm, 50)

    assert strain_share(pyramid, along_mm) == pytest.approx(np.ones(50))


def test_a_limb_of_even_width_is_strained_like_its_moment() -> None:
    """Where width and depth are even, strain grows as the moment does, from nothing at the tip."""
    straight = BowShape(1600.0, 40.0, handle_mm=0.0, fade_mm=0.0, tip_mm=40.0)
    along_mm = np.linspace(0.0, 800.0, 50)

    assert moment_share(straight, along_mm) == pytest.approx(along_mm / 800.0)
    assert strain_share(straight, along_mm) == pytest.approx(along_mm / 800.0, abs=1e-6)


def test_a_wider_place_is_strained_less() -> None:
    """Half the width is twice the strain: at the end of a taper to half the width the tip's side has double."""
    narrow, wide = BowShape(1600.0, 40.0, tip_mm=40.0), BowShape(1600.0, 40.0, tip_mm=20.0)
    near_tip_mm = np.array([0.01])

    assert strain_share(wide, near_tip_mm) == pytest.approx(2 * strain_share(narrow, near_tip_mm), rel=1e-3)


@many
@given(shape=shapes())
def test_tips_and_handle_rest_while_the_inner_limb_works_hardest(shape: BowShape) -> None:
    """Nothing bends at the tips, little in the handle, and the peak lies in a limb (common practice, no source)."""
    along_mm = np.linspace(0.0, shape.length_mm, 3001)
    strain = strain_share(shape, along_mm)
    peak_mm = float(along_mm[int(np.argmax(strain))])
    from_tip_mm = min(peak_mm, shape.length_mm - peak_mm)

    assert strain[0] < 1e-6
    assert strain[-1] < 1e-6
    assert strain[1500] < 0.35
    assert strain.max() == pytest.approx(1.0, abs=2e-3)
    assert 0.2 * shape.limb_mm < from_tip_mm <= shape.limb_mm + shape.length_mm / 3000


@many
@given(shape=shapes())
def test_both_limbs_work_alike(shape: BowShape) -> None:
    """A bow is the same from either end."""
    along_mm = np.linspace(0.0, shape.length_mm, 301)

    assert strain_share(shape, along_mm) == pytest.approx(strain_share(shape, along_mm)[::-1], abs=1e-9)


@many
@given(shape=shapes(), times=st.floats(0.01, 100.0))
def test_shares_have_no_scale(shape: BowShape, times: float) -> None:
    """A bow told in inches works where the same bow told in millimetres does."""
    scaled = BowShape(
        *(times * size for size in (shape.length_mm, shape.width_mm, shape.handle_mm)),
        *(times * size for size in (shape.fade_mm, shape.taper_mm, shape.tip_mm)),
    )
    along_mm = np.linspace(0.0, shape.length_mm, 201)

    assert strain_share(scaled, times * along_mm) == pytest.approx(strain_share(shape, along_mm), abs=1e-6)


def test_a_longer_handle_moves_the_work_outward() -> None:
    """The longer the stiff handle, the shorter the limbs and the nearer to the tip the hardest place."""
    along_mm = np.linspace(0.0, 0.5 * FLAT_BOW.length_mm, 2001)
    peaks_mm = [
        float(along_mm[int(np.argmax(strain_share(replace(FLAT_BOW, handle_mm=handle_mm), along_mm)))])
        for handle_mm in (100.0, 200.0, 300.0)
    ]

    assert peaks_mm[0] > peaks_mm[1] > peaks_mm[2]


def test_the_inner_and_middle_limb_work_hard() -> None:
    """Of the 1942 bow's limb the inner half works hard, its last 9 in and the handle do not."""
    limb_mm = np.linspace(0.5 * FLAT_BOW.limb_mm, FLAT_BOW.limb_mm, 20)

    assert works_hard(FLAT_BOW, limb_mm).all()
    assert works_hard(FLAT_BOW, FLAT_BOW.length_mm - limb_mm).all()
    assert not works_hard(FLAT_BOW, np.linspace(0.0, 9 * IN_MM, 20)).any()
    assert not works_hard(FLAT_BOW, np.array([0.5 * FLAT_BOW.length_mm])).any()
    assert strain_share(FLAT_BOW, limb_mm).min() >= HARD_SHARE
