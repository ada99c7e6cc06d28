"""Photos are kept without the notes that nobody needs, and with the same picture."""

import io
from typing import Any, Final

import numpy as np
import pytest
from PIL import Image
from PIL.ExifTags import IFD, Base

from service.errors import BadPhoto, TooLarge
from service.photo.decode import open_photo
from service.store.strip import strip_photo
from service.store.strip_jpeg import strip_jpeg
from tests.store.made_up import SECRETS, full_jpeg, notes, pixels, saved

#: Ways in which a JPEG may be coded; each is another path through its segments.
CODINGS: Final[dict[str, dict[str, Any]]] = {
    "baseline": {},
    "progressive": {"progressive": True},
    "fine colour": {"subsampling": 0},
    "restarts": {"restart_marker_blocks": 2},
    "own tables": {"optimize": True},
    "colours as they are": {"keep_rgb": True},
}


def colours(data: bytes) -> Any:
    """Decode all of a picture's colours, not turned."""
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGBA"))


@pytest.mark.parametrize("coding", CODINGS)
def test_a_jpeg_keeps_its_pixels_and_loses_its_notes(coding: str) -> None:
    """Brightness, colours and focal length are the same before and after; no secret is left, nor a trailing byte."""
    data = full_jpeg(**CODINGS[coding])
    assert [name for name, secret in SECRETS.items() if secret not in data] == []

    kept = strip_photo(data, "a.jpg")

    before, after = open_photo(data, "a.jpg"), open_photo(kept.data, "a.jpg")
    assert kept.kind == "jpeg"
    assert np.array_equal(before.luma, after.luma)
    assert np.array_equal(before.colour, after.colour)
    assert np.array_equal(colours(data), colours(kept.data))
    assert before.focal_px == after.focal_px is not None
    assert [name for name, secret in SECRETS.items() if secret in kept.data] == []
    assert kept.data.endswith(b"\xff\xd9")


def test_a_second_picture_goes() -> None:
    """Of a file of two pictures (CIPA DC-007) the first stays alone, with its pixels."""
    data = saved("MPO", save_all=True, append_images=[Image.fromarray(pixels(2))])

    kept = strip_photo(data, "a.jpg").data

    assert getattr(Image.open(io.BytesIO(data)), "n_frames", 1) == 2
    assert getattr(Image.open(io.BytesIO(kept)), "n_frames", 1) == 1
    assert kept.count(b"\xff\xd8\xff") == 1
    assert np.array_equal(colours(data), colours(kept))


@pytest.mark.parametrize("mode", ["L", "CMYK"])
def test_other_colours_keep_their_pixels(mode: str) -> None:
    """Grey and four-colour JPEGs decode to the same pixels, though the latter tells its coding in a segment."""
    file = io.BytesIO()
    Image.fromarray(pixels()).convert(mode).save(file, "JPEG", exif=notes(3))

    kept = strip_photo(file.getvalue(), "a.jpg")

    assert np.array_equal(colours(file.getvalue()), colours(kept.data))
    assert SECRETS["serial number"] not in kept.data


def test_only_the_needed_notes_are_kept() -> None:
    """By another reader of Exif: orientation, focal length in 35 mm film and size remain, no place, nothing else."""
    exif = Image.open(io.BytesIO(strip_photo(full_jpeg(), "a.jpg").data)).getexif()

    assert set(exif) == {Base.Orientation, Base.ExifOffset}
    assert exif[Base.Orientation] == 6
    assert dict(exif.get_ifd(IFD.Exif)) == {
        Base.FocalLengthIn35mmFilm: 26,
        Base.ExifImageWidth: 80,
        Base.ExifImageHeight: 48,
    }
    assert dict(exif.get_ifd(IFD.GPSInfo)) == {}


def test_a_photo_without_notes_gets_none() -> None:
    """Where no turn and no focal length were noted, none is made up."""
    file = io.BytesIO()
    Image.fromarray(pixels()).save(file, "JPEG")

    assert b"Exif" not in strip_photo(file.getvalue(), "a.jpg").data


@pytest.mark.parametrize("turned", range(1, 9))
def test_every_turn_is_kept(turned: int) -> None:
    """All eight orientations of TIFF 6.0 come out as they went in."""
    data = saved("JPEG", exif=notes(turned))

    assert np.array_equal(open_photo(data, "a").luma, open_photo(strip_photo(data, "a").data, "a").luma)


@pytest.mark.parametrize(
    ("kind", "how"), [("PNG", {}), ("WEBP", {"lossless": True}), ("WEBP", {"quality": 80}), ("PNG", {"alpha": True})]
)
def test_png_and_webp_keep_their_pixels_and_lose_their_notes(kind: str, how: dict[str, Any]) -> None:
    """Chunks that the pixels need are copied, the others and what follows the end are gone, orientation stays."""
    file = io.BytesIO()
    image = Image.fromarray(pixels())
    if how.pop("alpha", False):
        image.putalpha(Image.fromarray(pixels(2)).convert("L"))
    image.save(file, kind, exif=notes(), icc_profile=SECRETS["profile"], xmp=SECRETS["XMP"], **how)
    data = file.getvalue() + (SECRETS["film"] if kind == "PNG" else b"")

    kept = strip_photo(data, "a")

    assert kept.kind == kind.lower()
    assert np.array_equal(colours(data), colours(kept.data))
    before, after = open_photo(data, "a"), open_photo(kept.data, "a")
    assert np.array_equal(before.luma, after.luma)
    assert before.focal_px == after.focal_px is not None
    assert [name for name, secret in SECRETS.items() if secret in kept.data] == []


def test_a_transparent_webp_keeps_its_pixels() -> None:
    """Its transparency lies in a chunk of its own, announced in the header."""
    file = io.BytesIO()
    image = Image.fromarray(pixels())
    image.putalpha(Image.fromarray(pixels(2)).convert("L"))
    image.save(file, "WEBP", quality=80, exif=notes())

    assert np.array_equal(colours(file.getvalue()), colours(strip_photo(file.getvalue(), "a").data))


@pytest.mark.parametrize("kind", ["HEIF", "WEBP"])
def test_what_is_coded_anew_stays_close(kind: str) -> None:
    """HEIC and moving WebP become JPEG of the same size and turn, under two levels off in the mean."""
    how: dict[str, Any] = {"quality": 90}
    if kind == "WEBP":
        how = {"save_all": True, "append_images": [Image.fromarray(pixels(2))], "lossless": True}
    data = saved(kind, **how)

    kept = strip_photo(data, "a")

    before, after = open_photo(data, "a"), open_photo(kept.data, "a")
    assert kept.kind == "jpeg"
    assert before.luma.shape == after.luma.shape
    assert np.abs(before.luma.astype(float) - after.luma.astype(float)).mean() < 2.0
    assert before.focal_px == after.focal_px is not None
    assert [name for name, secret in SECRETS.items() if secret in kept.data] == []


@pytest.mark.parametrize("data", [b"", b"no photo", full_jpeg()[:700], saved("PNG")[:900], saved("WEBP")[:300]])
def test_a_broken_photo_is_refused(data: bytes) -> None:
    """Nothing, no photo, or one that breaks off."""
    with pytest.raises(BadPhoto):
        strip_photo(data, "a.jpg")


def test_too_many_pixels_are_refused() -> None:
    """The limits of decoding hold."""
    with pytest.raises(TooLarge):
        strip_photo(saved("PNG"), "a.png", max_pixels=100)


def test_what_is_no_jpeg_cannot_be_stripped_as_one() -> None:
    """The start of an image (ITU-T T.81) is looked for."""
    with pytest.raises(ValueError, match="no start"):
        strip_jpeg(b"GIF89a", b"")
