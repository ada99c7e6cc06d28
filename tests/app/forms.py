"""Forms as a browser or a program sends them."""

from typing import Final

SIZES: Final = {"bow_length": "68 in", "length": "96 in", "size": "1x2", "units": "in"}

Files = list[tuple[str, tuple[str, bytes, str]]]


def photo(field: str, data: bytes = b"bytes of a photo", name: str = "board.jpg") -> tuple[str, tuple[str, bytes, str]]:
    """Return one photo of a form."""
    return field, (name, data, "image/jpeg")


def four_photos() -> Files:
    """Return one photo of each side."""
    return [photo(side) for side in ("face_1", "edge_1", "face_2", "edge_2")]
