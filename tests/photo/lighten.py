"""What a phone does with a photo before it sends it, done with Pillow instead of a canvas."""

import io
import json
from collections.abc import Sequence
from dataclasses import dataclass

from PIL import Image, ImageOps

from service.photo.decode import EXIF_BLOCK, FOCAL_35_TAG
from service.photo.layout import Layout
from service.photo.stretch import find_tiles, lay_back

#: The same as in web/static/cutting.js.
PREVIEW_PX, PREVIEW_QUALITY, QUALITY = 1024, 50, 90


@dataclass(frozen=True)
class Light:
    """What is sent instead of a photo."""

    preview: bytes
    tiles: bytes
    layout: Layout

    @property
    def sent_bytes(self) -> int:
        """Count all that goes over the line: the preview twice, once to find the board and once as its surroundings."""
        return 2 * len(self.preview) + len(self.tiles) + len(self.told)

    @property
    def told(self) -> str:
        """Write the layout as it is sent."""
        tiles = [(tile.left, tile.top, tile.cols, tile.rows) for tile in self.layout.tiles]
        size = (self.layout.cols, self.layout.rows)
        told = {"size": size, "focal_35_mm": self.layout.focal_35_mm, "tiles": tiles, "turned": self.layout.turned}
        return json.dumps(told)

    def laid_back(self) -> bytes:
        """Make the picture that the service makes of it."""
        return lay_back(self.tiles, self.preview, self.layout)


def upright(data: bytes) -> tuple[Image.Image, Layout]:
    """Open a photo upright, and tell its size and focal length."""
    with Image.open(io.BytesIO(data)) as image:
        focal = image.getexif().get_ifd(EXIF_BLOCK).get(FOCAL_35_TAG)
        picture = ImageOps.exif_transpose(image).convert("RGB")
    return picture, Layout(*picture.size, focal_35_mm=float(focal) if focal else None)


def preview_of(picture: Image.Image) -> bytes:
    """Make a photo small."""
    return jpeg(picture.reduce(max(round(max(picture.size) / PREVIEW_PX), 1)), PREVIEW_QUALITY)


def cut(picture: Image.Image, layout: Layout, quality: int = QUALITY) -> bytes:
    """Cut the tiles out of a photo, one after the other."""
    tiles, at = Image.new("RGB", layout.size), 0
    for tile in layout.tiles:
        part = picture.crop((tile.left, tile.top, tile.left + tile.cols, tile.top + tile.rows))
        tiles.paste(part, (0, at) if layout.turned else (at, 0))
        at += tile.rows if layout.turned else tile.cols
    return jpeg(tiles, quality)


def jpeg(picture: Image.Image, quality: int) -> bytes:
    """Code a picture as a canvas does."""
    coded = io.BytesIO()
    picture.save(coded, "JPEG", quality=quality)
    return coded.getvalue()


def lighten(data: bytes, length_mm: float | None = None, across_mm: Sequence[float] = ()) -> Light | None:
    """Find the board in a photo made small, and cut its stretch out; None when the whole photo goes."""
    picture, whole = upright(data)
    preview = preview_of(picture)
    layout = find_tiles(preview, whole, length_mm, across_mm)
    return Light(preview, cut(picture, layout), layout) if layout is not None else None
