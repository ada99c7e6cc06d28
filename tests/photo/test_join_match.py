"""Two photos of the same wood are laid over each other to the millimetre; other wood never is."""

import cv2
import numpy as np
import pytest

from service.photo.join_match import alike, match
from service.photo.join_texture import Texture, texture_of
from tests.photo.cut import PX_PER_MM, cut, half_turn, side

#: Where the second strip begins, and how near to the truth a join has to be.
BEGINS_MM, NEAR_MM = 480.0, 2.0


def pair(seed: int, look: str, scale: float = 1.0, overlap_mm: float = 160.0) -> tuple[Texture, Texture]:
    """Two neighbouring stretches of one side, each in its own light."""
    whole = side(seed, look)
    first = cut(whole, 60.0, BEGINS_MM + overlap_mm, seed=1)
    return texture_of(first), texture_of(cut(whole, BEGINS_MM, 1150.0, seed=2, scale=scale))


@pytest.mark.parametrize(("look", "scale"), [("pale", 1.0), ("pale", 0.99), ("open", 1.01), ("tan", 1.0)])
def test_neighbours_are_joined_within_two_millimetres(look: str, scale: float) -> None:
    """In other light, with noise and 1 % of difference in scale, both ends of the overlap fit within 2 mm."""
    found = match(*pair(730, look, scale))

    assert found is not None
    true_mm = (60.0 + found.one_mm - BEGINS_MM) * scale
    assert np.abs(found.other_mm - true_mm).max() < NEAR_MM


def test_it_does_not_matter_which_of_two_comes_first() -> None:
    """Laid the other way round, the same places are found, within a millimetre."""
    one, other = pair(730, "open")
    there, back = match(one, other), match(other, one)

    assert there is not None
    assert back is not None
    shift_mm = float(np.mean(there.one_mm - there.other_mm))
    assert float(np.mean(back.other_mm - back.one_mm)) == pytest.approx(shift_mm, abs=1.0)


def test_a_row_aside_is_no_hindrance() -> None:
    """A strip whose outline lies 2 % of the width higher joins all the same."""
    whole = side(730, "pale")
    moved = np.roll(whole, round(0.02 * whole.shape[0]), axis=0)
    found = match(texture_of(cut(whole, 60.0, 640.0, seed=1)), texture_of(cut(moved, BEGINS_MM, 1150.0, seed=2)))

    assert found is not None
    assert np.abs(60.0 + found.one_mm - BEGINS_MM - found.other_mm).max() < NEAR_MM


@pytest.mark.parametrize("look", ["pale", "tan"])
def test_wood_that_does_not_overlap_is_not_joined(look: str) -> None:
    """Other stretches of the board, its turned picture and other boards of the same wood join nothing."""
    whole = side(730, look)
    one = texture_of(cut(whole, 0.0, 500.0, seed=1))

    assert match(one, texture_of(cut(whole, 560.0, 1150.0, seed=2))) is None
    assert match(one, texture_of(cut(half_turn(whole), 560.0, 1150.0, seed=3))) is None
    assert all(match(one, texture_of(cut(side(seed, look), 100.0, 700.0, seed=4))) is None for seed in (731, 732))


def test_lines_without_end_tell_no_place() -> None:
    """Perfectly straight lines look the same everywhere, so nothing is joined."""
    rows = 0.5 + 0.2 * np.sin(np.arange(120) / 3)[:, None] + np.zeros((1, 3600))
    whole = np.asarray(rows, np.float32)

    assert match(texture_of(cut(whole, 0.0, 640.0, seed=1)), texture_of(cut(whole, 480.0, 1150.0, seed=2))) is None


def test_planer_marks_do_not_lead_astray() -> None:
    """Marks that repeat every 3 mm, stronger than the grain, do not move the join by one of them."""
    whole = side(730, "pale")
    along = np.arange(whole.shape[1])[None] / PX_PER_MM + 0.03 * np.arange(whole.shape[0])[:, None] / PX_PER_MM
    marked = np.asarray(whole * (1 + 0.1 * np.cos(2 * np.pi * along / 3.0)), np.float32)
    found = match(texture_of(cut(marked, 60.0, 640.0, seed=1)), texture_of(cut(marked, BEGINS_MM, 1150.0, seed=2)))

    assert found is not None
    assert np.abs(60.0 + found.one_mm - BEGINS_MM - found.other_mm).max() < NEAR_MM


def test_lines_tell_the_same_wood_from_other_wood() -> None:
    """Where two strips should overlap, give or take 20 mm, the same wood is alike by 0.75 and more, other wood not."""
    one, other = pair(730, "pale")
    stranger = texture_of(cut(side(731, "pale"), BEGINS_MM, 1150.0, seed=2))
    same, strange = (alike(one, texture, BEGINS_MM - 60.0 + 20.0, 25.0) for texture in (other, stranger))

    assert same is not None
    assert same > 0.75
    assert strange is not None
    assert strange < 0.55
    assert alike(one, other, 575.0, 25.0) is None


def test_likeness_is_the_correlation_of_the_library() -> None:
    """At an exact place without slack, it is numpy's correlation coefficient of the lines' blocks."""
    one, other = pair(730, "pale")
    shift = round(BEGINS_MM - 60.0)
    got = alike(one, other, float(shift), 0.0)

    last = one.lines.shape[1] - 80
    blocks = [
        max(
            float(
                np.corrcoef(
                    one.lines[4:-4, at : at + 80].ravel(), other.lines[r : r + 40, at - shift :][:, :80].ravel()
                )[0, 1]
            )
            for r in range(9)
        )
        for at in np.linspace(shift, last, 2 + (last - shift) // 80).astype(int)
    ]
    assert got == pytest.approx(np.mean(blocks), abs=1e-4)


def test_texture_does_not_depend_on_light() -> None:
    """Half the light, or light that falls off along the board, leaves the texture nearly as it was."""
    strip = cut(side(730, "pale"), 0.0, 600.0)
    dim = cv2.multiply(
        strip.image, np.linspace(0.5, 0.7, strip.image.shape[1], dtype=np.float32)[None].repeat(strip.image.shape[0], 0)
    )
    bright, dark = texture_of(strip), texture_of(type(strip)(**{**vars(strip), "image": dim}))

    assert np.corrcoef(bright.places.ravel(), dark.places.ravel())[0, 1] > 0.97
    assert np.corrcoef(bright.lines.ravel(), dark.lines.ravel())[0, 1] > 0.97
