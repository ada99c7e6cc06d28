"""Opening photos: every format and turn that phones write, and every way a file can be wrong."""

import io
import re
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from service.errors import BadPhoto, TooLarge
from service.photo.decode import FILM_DIAGONAL_MM, open_photo

#: What JPEG, WebP and HEIC may change a smooth picture by.
LOSSY = 0.03


def picture(rows: int = 240, cols: int = 320) -> Image.Image:
    """Make a smooth picture whose four corners all differ."""
    down, right = np.mgrid[0:rows, 0:cols]
    red, green = 40 + 180 * right / cols, 30 + 150 * down / rows
    return Image.fromarray(np.dstack([red, green, np.full_like(red, 90)]).astype(np.uint8))


def grey(image: Image.Image) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Brightness as JPEG defines it (ITU-T T.871): 0.299 R + 0.587 G + 0.114 B."""
    return np.asarray(image.convert("RGB"), dtype=np.float64) @ [0.299, 0.587, 0.114] / 255


def saved(image: Image.Image, kind: str, **options: object) -> bytes:
    """Return the bytes of a picture file."""
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def exif(orientation: int = 1, focal: float | None = None) -> Image.Exif:
    """Camera's notes."""
    notes = Image.Exif()
    notes[0x0112] = orientation
    if focal is not None:
        notes.get_ifd(0x8769)[0xA405] = focal
    return notes


@pytest.mark.parametrize(
    ("kind", "options"), [("JPEG", {"quality": 95}), ("PNG", {}), ("WEBP", {"quality": 95}), ("HEIF", {})]
)
def test_every_format_opens_to_the_same_picture(kind: str, options: dict[str, int]) -> None:
    """JPEG, PNG, WebP and HEIC all open to the brightness and the colours that were saved."""
    opened = open_photo(saved(picture(), kind, **options), "photo")
    assert opened.luma.dtype == np.uint8
    assert opened.luma.shape == (240, 320)
    assert np.abs(opened.luma / 255 - grey(picture())).max() < LOSSY
    small = np.asarray(picture(), dtype=np.float64)[::1] / 255
    means = small.reshape(opened.colour.shape[0], opened.reduction, opened.colour.shape[1], opened.reduction, 3)
    assert np.abs(opened.colour - means.mean(axis=(1, 3))).max() < LOSSY


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_all_eight_turns_come_out_upright(orientation: int, kind: str) -> None:
    """A picture stored in any of the eight EXIF orientations opens upright (Pillow's own turning is the reference)."""
    stored = {2: 0, 3: 3, 4: 1, 5: 5, 6: 2, 7: 6, 8: 4}
    upright = picture(1210, 1618)
    image = upright if orientation == 1 else upright.transpose(Image.Transpose(stored[orientation]))
    options: dict[str, object] = {"quality": 95} if kind == "JPEG" else {}
    opened = open_photo(saved(image, kind, exif=exif(orientation), **options), "photo")
    assert opened.luma.shape == (1210, 1618)
    assert np.abs(opened.luma / 255 - grey(upright)).max() < LOSSY
    assert opened.reduction == 8
    assert opened.colour.shape == (151, 202, 3)
    near = np.asarray(upright.resize((202, 151), Image.Resampling.BOX), dtype=np.float64) / 255
    assert np.abs(opened.colour - near).max() < LOSSY


def test_focal_length_is_taken_against_the_diagonal() -> None:
    """26 mm in 35 mm terms is 26/43.267 of the picture's diagonal (CIPA DCG-001, from memory); absent, it is None."""
    opened = open_photo(saved(picture(300, 400), "JPEG", exif=exif(focal=26)), "photo")
    assert opened.focal_px == pytest.approx(26 / FILM_DIAGONAL_MM * 500)
    assert pytest.approx(np.hypot(36, 24), abs=1e-3) == FILM_DIAGONAL_MM
    assert open_photo(saved(picture(), "JPEG"), "photo").focal_px is None


def test_grey_palette_and_one_bit_pictures_open() -> None:
    """Grey, palette and black-and-white pictures open like colour ones."""
    plain = picture()
    for mode in ("L", "P", "1"):
        image = plain.convert(mode)
        opened = open_photo(saved(image, "PNG"), "photo")
        assert np.abs(opened.luma / 255 - grey(image)).max() < 2 / 255


def test_sixteen_bits_are_rounded_to_eight() -> None:
    """A 16-bit grey PNG opens to the nearest of 256 steps, black and white where they belong."""
    values = np.arange(240 * 320, dtype=np.uint16).reshape(240, 320) % 60000
    opened = open_photo(saved(Image.fromarray(values), "PNG"), "photo")
    assert np.abs(opened.luma - values / 257).max() <= 0.5


def test_clear_parts_are_laid_on_mid_grey() -> None:
    """Fully transparent pixels come out as mid grey, half transparent ones half way."""
    image = Image.new("RGBA", (320, 240), (255, 255, 255, 0))
    image.paste((255, 255, 255, 128), (160, 0, 320, 240))
    opened = open_photo(saved(image, "PNG"), "photo")
    assert opened.luma[120, 10] == pytest.approx(128, abs=2)
    assert opened.luma[120, 300] == pytest.approx(128 + 127 / 2, abs=3)


def test_content_not_name_decides_the_format() -> None:
    """A PNG called .jpg opens."""
    assert open_photo(saved(picture(), "PNG"), "board.jpg").luma.shape == (240, 320)


def test_digest_tells_the_same_photo_given_twice() -> None:
    """The digest is the SHA-256 of the bytes; FIPS 180-4 is what hashlib implements."""
    data = saved(picture(), "PNG")
    assert open_photo(data, "a").digest == open_photo(data, "b").digest
    assert re.fullmatch("[0-9a-f]{64}", open_photo(data, "a").digest)


def huge_png(side: int) -> bytes:
    """Make a PNG that claims a huge size (PNG specification, W3C: signature, IHDR chunk, CRC over type and data)."""
    chunks = b""
    for kind, body in (
        (b"IHDR", struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)),
        (b"IDAT", zlib.compress(bytes(99))),
    ):
        chunks += struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
    return b"\x89PNG\r\n\x1a\n" + chunks


def test_huge_claims_are_refused_before_decoding() -> None:
    """A claim of 60,000 x 60,000 pixels is refused by its size, with no warning."""
    with pytest.raises(TooLarge, match="60000 x 60000 pixels; at most 60 megapixels"):
        open_photo(huge_png(60_000), "bomb.png")


def test_limits_are_the_callers() -> None:
    """Bytes and pixels are held to the limits given."""
    data = saved(picture(), "JPEG")
    with pytest.raises(TooLarge, match="at most 0 megapixels"):
        open_photo(data, "photo", max_pixels=240 * 320 - 1)
    with pytest.raises(TooLarge, match="MB; at most"):
        open_photo(data, "photo", max_bytes=len(data) - 1)
    assert open_photo(data, "photo", max_bytes=len(data), max_pixels=240 * 320).luma.size == 240 * 320


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "a.jpg is empty. Please send the photo again."),
        (b"hello, this is no picture", "a.jpg is no photo this program can open. Please send JPEG, PNG, WebP or HEIC."),
        (b"GIF89a" + bytes(64), "a.jpg is no photo this program can open. Please send JPEG, PNG, WebP or HEIC."),
        (b"\xff\xd8\xff\xe0", "a.jpg is no photo this program can open. Please send JPEG, PNG, WebP or HEIC."),
    ],
)
def test_what_is_no_photo_is_refused_in_plain_words(data: bytes, says: str) -> None:
    """No bytes, no picture and a strange format each get their own sentence."""
    with pytest.raises(BadPhoto) as refused:
        open_photo(data, "a.jpg")
    assert refused.value.text == says


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_photos_that_break_off_are_refused(kind: str) -> None:
    """Half a file is refused, not read as half a picture."""
    data = saved(picture(), kind)
    with pytest.raises(BadPhoto, match=r"damaged or breaks off|no photo this program can open"):
        open_photo(data[: len(data) // 2], "photo")


def test_damaged_notes_do_not_spoil_a_good_picture() -> None:
    """A picture whose camera notes are nonsense still opens, as upright and without a focal length."""
    data = saved(picture(), "JPEG", exif=b"Exif\x00\x00II*\x00\xff\xff\xff\x7f")
    opened = open_photo(data, "photo")
    assert opened.luma.shape == (240, 320)
    assert opened.focal_px is None
