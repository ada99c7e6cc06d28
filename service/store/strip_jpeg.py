"""A JPEG without the notes in it: what its decoder needs, copied byte by byte, and nothing else."""

import re
from typing import Final

#: Markers (ITU-T T.81, table B.1) that the picture itself needs: tables, frame headers, restart interval, line count.
NEEDED: Final = frozenset({*range(0xC0, 0xD0), 0xDB, 0xDC, 0xDD} - {0xC8})
SOI: Final = b"\xff\xd8"
EOI: Final = b"\xff\xd9"
SOS: Final = 0xDA
APP0: Final = 0xE0
APP14: Final = 0xEE

#: The end of a scan: a marker that is neither a stuffed zero nor a restart nor a filler before one.
_NEXT: Final = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]", re.DOTALL)

#: A JFIF segment (ITU-T T.871) with nothing to tell. That there is one decides how colours are decoded.
_JFIF: Final = b"\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"
#: An Adobe segment (ITU-T T.872, 6.5.3) up to its last byte, which tells how colours are coded.
_ADOBE: Final = b"\xff\xee\x00\x0eAdobe\x00\x64\x00\x00\x00\x00"


def strip_jpeg(data: bytes, exif: bytes) -> bytes:
    r"""Keep the compressed picture alone, with fresh notes.

    Dropped are all application segments and comments, also those between scans, with the thumbnails and profiles in
    them; strays between segments; and all that follows the picture's end, such as second pictures and films.

    Parameters
    ----------
    data
        A JPEG that a decoder has opened.
    exif
        Content of the Exif segment to put in, from "Exif" on; empty for none.

    Returns
    -------
    bytes
        A JPEG that decodes to the same pixels: of the segments of JFIF and Adobe, which tell how colours are coded,
        the one telling byte is kept.

    Raises
    ------
    ValueError
        It is no JPEG.

    Examples
    --------
    A comment, two bytes of picture, and a stray after the end:

    >>> strip_jpeg(b"\xff\xd8" b"\xff\xfe\x00\x04hi" b"\xff\xda\x00\x02" b"\x12\x34" b"\xff\xd9" b"stray", b"")
    b'\xff\xd8\xff\xda\x00\x02\x124\xff\xd9'
    """
    if not data.startswith(SOI):
        raise ValueError("no start of an image")
    kept: list[bytes] = []
    told = {APP0: b"", APP14: b""}
    at = len(SOI)
    while (found := _NEXT.search(data, at)) is not None:
        marker = data[found.start() + 1]
        if marker == EOI[1]:
            kept.append(EOI)
            break
        start, end = _segment(data, found.start())
        if marker == SOS:
            end = _scan_end(data, end)
        if marker == SOS or marker in NEEDED:
            kept.append(data[found.start() : end])
        elif marker == APP0 and data[start : start + 5] == b"JFIF\x00":
            told[APP0] = _JFIF
        elif marker == APP14 and data[start : start + 5] == b"Adobe" and end - start >= 12:
            told[APP14] = _ADOBE + data[start + 11 : start + 12]
        at = end
    note = b"\xff\xe1" + (len(exif) + 2).to_bytes(2, "big") + exif if exif else b""
    return SOI + told[APP0] + note + told[APP14] + b"".join(kept)


def _segment(data: bytes, marker_at: int) -> tuple[int, int]:
    """Return where the content of a segment begins and ends."""
    length = int.from_bytes(data[marker_at + 2 : marker_at + 4], "big")
    return marker_at + 4, min(marker_at + 2 + max(length, 2), len(data))


def _scan_end(data: bytes, start: int) -> int:
    """Return where the coded data of a scan end."""
    found = _NEXT.search(data, start)
    return len(data) if found is None else found.start()
