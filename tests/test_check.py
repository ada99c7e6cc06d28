"""The check of single photos: verdicts, the record, and the command line."""

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from service.checking import PhotoCheck, check
from service.cli import main
from service.demo import DemoBoard, demo_boards
from service.photo.check import check_photo, look_at
from service.photo.decode import open_photo
from service.photo.types import Outline
from service.settings import find_folder
from service.upload import Upload
from tests.photo.faults import FAULTS, LENGTH_MM, Picture, far, grazing, opened, saved

#: Corners found at half size against those found at full size, in pixels of the whole photo.
SAME_PX = 4.0


@cache
def board() -> DemoBoard:
    """Take the first demo board."""
    return demo_boards(find_folder("demo_photos"))[0]


def face() -> Upload:
    """Return the photo of its first face."""
    return board().wish.photos["face_1"][0]


def sizes() -> tuple[float, list[float]]:
    """Return its length, and its width and thickness as widths that a side may have."""
    size = board().wish.size
    return size.length_mm, [size.width_mm, size.thickness_mm]


def checked(picture: Picture) -> PhotoCheck:
    """Check a picture as a photo of the demo board's face."""
    length_mm, across_mm = sizes()
    return check(Upload("side.jpg", saved(picture)), length_mm, across_mm[:1])


def codes(one: PhotoCheck) -> list[str]:
    """Codes of the reasons."""
    return [reason.code for reason in one.reasons]


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_named(fault: str) -> None:
    """A spoiled photo is not usable, for its own reason before all others."""
    change, code = FAULTS[fault]
    one = checked(change(opened(face().data)))

    assert not one.usable
    assert codes(one)[0] == code


def test_the_end_is_no_side() -> None:
    """A photo of the marked end is told to be one, whether sizes are known or not."""
    end = board().wish.end
    assert end is not None

    assert codes(check(end)) == ["end_only"]
    assert codes(check(end, *sizes())) == ["end_only"]


@pytest.mark.parametrize(("draw", "code"), [(far, "too_small"), (grazing, "grazing")])
def test_too_far_and_too_flat_are_told(draw: Callable[[int], tuple[bytes, float]], code: str) -> None:
    """A drawn board too far off, or seen along its surface, is refused for just that."""
    data, across_mm = draw(821)

    assert codes(check(Upload("side.jpg", data), LENGTH_MM, [across_mm])) == [code]


def test_good_photos_are_usable() -> None:
    """Every photo of a whole side and every close-up of the demo boards is usable, its size known or not."""
    refused = []
    for demo in demo_boards(find_folder("demo_photos")):
        size = demo.wish.size
        for side in demo.wish.photos:
            for upload in demo.wish.photos[side]:
                refused += codes(check(upload)) + codes(check(upload, size.length_mm, [size.across_mm(side)]))
        for side in demo.wish.closeups:
            for upload in demo.wish.closeups[side]:
                refused += codes(check(upload, None, [size.across_mm(side)]))

    assert refused == []


def test_the_quick_look_agrees_with_the_full_one() -> None:
    """The outline found at half the photo's size is that of the whole photo, in its pixels."""
    length_mm, across_mm = sizes()
    quick = look_at(open_photo(face().data, "face", halved=True), length_mm, across_mm[0])
    full = look_at(open_photo(face().data, "face"), length_mm, across_mm[0])

    assert isinstance(quick.outline, Outline)
    assert isinstance(full.outline, Outline)
    assert np.abs(np.array(quick.outline.corners) - full.outline.corners).max() < SAME_PX
    assert quick.px_per_mm == pytest.approx(full.px_per_mm, rel=0.02)


def test_the_scale_is_told_only_by_a_size() -> None:
    """Pixels per millimetre come from the side's width or the board's length; without either they are not made up."""
    length_mm, across_mm = sizes()
    by_width, by_length = check_photo(face().data, "f", None, across_mm[:1]), check_photo(face().data, "f", length_mm)
    outline = by_length.outline

    assert outline is not None
    assert by_length.px_per_mm == pytest.approx(outline.length_px / length_mm)
    assert by_width.px_per_mm == pytest.approx(by_length.px_per_mm, rel=0.06)
    assert check(face()).pixels_per_mm is None
    assert check(face()).finest_mm is None


def test_width_and_thickness_are_told_apart() -> None:
    """With both given, a photo of an edge is measured by the thickness, one of a face by the width."""
    length_mm, across_mm = sizes()
    for side, across in zip(("face_1", "edge_1"), across_mm, strict=True):
        one = check(board().wish.photos[side][0], length_mm, across_mm)

        assert one.usable
        assert one.pixels_across == pytest.approx(one.pixels_per_mm * across, rel=0.01)  # type: ignore[operator]


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_a_turned_phone_changes_nothing(turns: int) -> None:
    """A photo turned by quarter turns is as usable, and its outline is the turned one."""
    picture = opened(face().data)
    plain, turned = checked(picture), checked(np.rot90(picture, turns))
    rows, cols = picture.shape[:2]
    points = np.array(plain.outline)
    for _ in range(turns):
        # A quarter turn counter-clockwise takes (col, row) to (row, cols - 1 - col).
        points = np.stack([points[:, 1], cols - 1 - points[:, 0]], axis=1)
        rows, cols = cols, rows
    found = np.array(turned.outline)

    assert turned.usable
    # A board turned end for end begins at its other end; the corners are the same four.
    assert np.abs(np.sort(found.sum(axis=1)) - np.sort(points.sum(axis=1))).max() < 2 * SAME_PX


def test_a_mirrored_photo_has_the_mirrored_outline() -> None:
    """Mirrored left to right, the marked end's corners lie where the far end's mirrored ones are."""
    picture = opened(face().data)
    plain, flipped = np.array(checked(picture).outline), np.array(checked(picture[:, ::-1]).outline)

    expected = plain[[1, 0, 3, 2]] * [-1, 1] + [picture.shape[1] - 1, 0]
    assert np.abs(flipped - expected).max() < SAME_PX


def files(tmp_path: Path) -> list[str]:
    """Write a good photo, a file that is none, and a spoiled photo."""
    contents = {
        "good.jpg": face().data,
        "note.jpg": b"no photo",
        "dark.jpg": saved(FAULTS["dark"][0](opened(face().data))),
    }
    for name, data in contents.items():
        (tmp_path / name).write_bytes(data)
    return [str(tmp_path / name) for name in contents]


def test_the_command_prints_one_record_for_each_photo(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --json a list is printed in the order of the photos; the status is 0 whatever is said of them."""
    status = main(["check", *files(tmp_path), "--length", "96in", "--json"])

    printed: list[dict[str, Any]] = json.loads(capsys.readouterr().out)
    assert status == 0
    assert [one["file"] for one in printed] == ["good.jpg", "note.jpg", "dark.jpg"]
    assert [one["usable"] for one in printed] == [True, False, False]
    assert [[reason["code"] for reason in one["reasons"]] for one in printed] == [[], ["bad_photo"], ["too_dark"]]
    assert len(printed[0]["outline"]) == 4
    assert all(set(one) == set(PhotoCheck.model_fields) for one in printed)


def test_the_order_of_photos_does_not_matter(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each photo's record is the same whatever photos are checked before it."""
    names = files(tmp_path)
    main(["check", *names, "--json"])
    forth = json.loads(capsys.readouterr().out)
    main(["check", *names[::-1], "--json"])

    assert json.loads(capsys.readouterr().out) == forth[::-1]


def test_the_command_says_it_in_sentences(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without --json each photo gets its verdict and what to do, in words."""
    assert main(["check", *files(tmp_path), "--length", "96in"]) == 0

    told = " ".join(capsys.readouterr().out.split())
    assert "good.jpg: can be used. The side is" in told
    assert "dark.jpg: cannot be used. The photo is too dark." in told


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(["no_such.jpg"], "no_such.jpg cannot be read"), (["x.jpg", "--length", "96"], "“96” needs a unit")],
)
def test_what_cannot_be_judged_ends_with_status_2(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A missing file or a size without a unit is refused with one sentence."""
    assert main(["check", *arguments]) == 2
    assert words in capsys.readouterr().err
