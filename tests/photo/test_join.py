"""Several photos of a side on one board: order, repeats, gaps, strangers and turned ones."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from service.photo.join import Joined, Part, join
from service.photo.types import Strip
from tests.photo.cut import LENGTH_MM, cut, half_turn, part, side

SEED, LOOK = 730, "pale"

#: A join has to be this good, in millimetres.
NEAR_MM = 2.5


def three(seed: int = 0) -> list[Part]:
    """Three photos of one side that overlap by 150 mm, the second seen 0.7 % too long."""
    whole = side(SEED, LOOK)
    return [
        part(whole, 0.0, 500.0, seed),
        part(whole, 350.0, 850.0, seed + 1, scale=1.007),
        part(whole, 700.0, LENGTH_MM, seed + 2),
    ]


def stranger(from_mm: float, to_mm: float) -> Part:
    """Cut a photo out of another board."""
    return part(side(731, LOOK), from_mm, to_mm, 7, name="stranger.jpg")


def strip_of(found: Joined, number: int) -> Strip:
    """Return the strip of a part that was used."""
    strip = found.strips[number]
    assert strip is not None
    return strip


def codes(found: Joined, number: int) -> list[str]:
    """Return what was noticed about a part."""
    return [problem.code for problem in found.problems[number]]


def test_neighbours_lie_where_they_were_cut() -> None:
    """All three lie within their stated error and 2.5 mm of the truth, and nothing is complained of."""
    found = join(three(), LENGTH_MM)

    for number, (begin, end) in enumerate([(0.0, 500.0), (350.0, 850.0), (700.0, LENGTH_MM)]):
        strip = strip_of(found, number)
        off = max(abs(strip.from_mm - begin), abs(strip.to_mm - end))
        assert off < NEAR_MM
        assert off < strip.along_error_mm
        assert codes(found, number) == []
    assert found.order == ()
    assert found.gaps_mm == ()


def test_the_order_of_photos_does_not_matter() -> None:
    """In every order the places are the same to the last digit, and a wrong order is told."""
    parts = three()
    plain = join(parts, LENGTH_MM)
    for order in permutations(range(3)):
        found = join([parts[number] for number in order], LENGTH_MM)

        for place, number in enumerate(order):
            assert strip_of(found, place).from_mm == pytest.approx(strip_of(plain, number).from_mm, abs=1e-9)
            assert np.array_equal(strip_of(found, place).image, strip_of(plain, number).image)
        told = [order[place] for place in found.order] if found.order else list(order)
        assert told == [0, 1, 2]


def test_the_board_turned_end_for_end_is_the_same_board() -> None:
    """All photos turned by half a turn, marked end and all, give the mirrored places."""
    whole = half_turn(side(SEED, LOOK))
    turned = [part(whole, LENGTH_MM - 500.0, LENGTH_MM), part(whole, 350.0, 850.0, 1), part(whole, 0.0, 500.0, 2)]
    found = join(turned, LENGTH_MM)

    assert [strip_of(found, number).from_mm for number in range(3)] == pytest.approx([700.0, 350.0, 0.0], abs=NEAR_MM)


def test_the_same_photo_twice_is_used_once() -> None:
    """The second of two equal files is left out, and named."""
    first, second, third = three()
    found = join([first, second, replace(second, name="again.jpg"), third], LENGTH_MM)

    assert found.strips[2] is None
    assert codes(found, 2) == ["repeated"]
    assert "again.jpg is the same photo as 350.jpg" in found.problems[2][0].text
    assert strip_of(found, 1).from_mm == pytest.approx(350.0, abs=NEAR_MM)


def test_the_same_stretch_twice_is_harmless() -> None:
    """Another photo of a stretch already shown is used too, and named."""
    found = join([*three(), part(side(SEED, LOOK), 355.0, 848.0, 9, name="more.jpg")], LENGTH_MM)

    assert strip_of(found, 3).from_mm == pytest.approx(355.0, abs=NEAR_MM)
    assert codes(found, 3) == ["repeated"]
    assert "more.jpg shows the same stretch as 350.jpg" in found.problems[3][0].text


def test_a_whole_photo_and_part_photos_go_together() -> None:
    """A photo of the whole side ties down part photos that show no end."""
    whole = side(SEED, LOOK)
    found = join([part(whole, 0.0, LENGTH_MM), part(whole, 300.0, 700.0, 1), part(whole, 750.0, 1100.0, 2)], LENGTH_MM)

    assert [strip_of(found, n).from_mm for n in range(3)] == pytest.approx([0.0, 300.0, 750.0], abs=NEAR_MM)
    assert found.order == ()


def test_a_photo_of_another_board_is_left_out_and_named() -> None:
    """A stranger without an end joins nothing; as the others show the whole side, it must be of other wood."""
    found = join([*three(), stranger(300.0, 800.0)], LENGTH_MM)

    assert found.strips[3] is None
    assert codes(found, 3) == ["other_wood"]
    assert "stranger.jpg" in found.problems[3][0].text
    assert "another board" in found.problems[3][0].text
    assert all(codes(found, number) == [] for number in range(3))


def test_a_stranger_with_an_end_in_view_is_left_out_and_named() -> None:
    """Another board's far end in place of the last photo shows other wood where it overlaps, and loses to two ends."""
    first, second, third = three()
    found = join([first, second, third, stranger(700.0, LENGTH_MM)], LENGTH_MM)

    assert found.strips[3] is None
    assert codes(found, 3) == ["other_wood"]
    assert strip_of(found, 2).from_mm == pytest.approx(700.0, abs=NEAR_MM)


def test_two_that_contradict_each_other_are_both_left_out() -> None:
    """Of two photos, each with an end, that show other wood where they overlap, nobody can say which is wrong."""
    found = join([part(side(SEED, LOOK), 0.0, 700.0), stranger(500.0, LENGTH_MM)], LENGTH_MM)

    assert found.strips == (None, None)
    assert [codes(found, number) for number in range(2)] == [["other_wood"], ["other_wood"]]


def test_a_photo_turned_end_for_end_is_turned_back() -> None:
    """Taken from the other side of the board, a photo joins after half a turn, and is named."""
    first, second, third = three()
    whole = half_turn(side(SEED, LOOK))
    wrong = part(whole, LENGTH_MM - 850.0, LENGTH_MM - 350.0, 1, scale=1.007, name="turned.jpg")
    found, right = join([first, wrong, third], LENGTH_MM), join([first, second, third], LENGTH_MM)

    assert codes(found, 1) == ["turned_end_for_end"]
    assert "turned.jpg" in found.problems[1][0].text
    assert strip_of(found, 1).from_mm == pytest.approx(strip_of(right, 1).from_mm, abs=NEAR_MM)
    grain, truth = (strip.image[:, 50:-50].mean(axis=1) for strip in (strip_of(found, 1), strip_of(right, 1)))
    assert np.corrcoef(grain, truth)[0, 1] > 0.9


def test_a_gap_is_told_from_where_to_where() -> None:
    """Without the middle photo 200 mm were seen by nobody; the outer two are placed by their ends."""
    first, _, third = three()
    found = join([first, third], LENGTH_MM)

    assert np.array(found.gaps_mm) == pytest.approx(np.array([[500.0, 700.0]]), abs=4.0)
    assert all(codes(found, number) == [] for number in range(2))


def test_a_lone_middle_photo_is_left_out_and_named() -> None:
    """A photo without an end that overlaps nothing has no place: it is left out with what to do about it."""
    whole = side(SEED, LOOK)
    found = join([part(whole, 0.0, 300.0), part(whole, 420.0, 760.0, 1), part(whole, 900.0, LENGTH_MM, 2)], LENGTH_MM)

    assert found.strips[1] is None
    assert codes(found, 1) == ["no_end"]
    assert "overlap" in found.problems[1][0].text


def test_a_stretched_strip_keeps_what_it_shows() -> None:
    """The photo seen 0.7 % too long is shortened, so that its columns are as far apart as its rows again."""
    strip = strip_of(join(three(), LENGTH_MM), 1)
    plain = cut(side(SEED, LOOK), 350.0, 850.0, 1)

    assert strip.image.shape[1] == pytest.approx(plain.image.shape[1], abs=6)
    assert strip.to_mm - strip.from_mm == pytest.approx((strip.image.shape[1] - 1) * strip.mm_per_px)
    assert strip.image.dtype == np.float32


@pytest.mark.parametrize("wrong", [0.8, 1.25])
def test_a_wrong_length_is_told_as_such(wrong: float) -> None:
    """Photos that join from end to end and give another length than was typed say so, with both lengths."""
    found = join(three(), wrong * LENGTH_MM)

    for number in range(3):
        assert "other_length" in codes(found, number)
        assert f"({wrong * LENGTH_MM:.0f} mm) were given" in found.problems[number][0].text
