"""How much a zip archive says it holds, looked at before it is opened.

Opening an archive reads its whole directory into memory, so a made-up one of a gigabyte would fill it. The end of the
archive tells how large that directory is (APPNOTE.TXT 6.3, sections 4.3.14 to 4.3.16).
"""

import os
import struct
from typing import Any, BinaryIO, Final

_END: Final = struct.Struct("<4s4H2LH")
_END_64: Final = struct.Struct("<4sQ2H2L4Q")
_LOCATOR_64: Final = struct.Struct("<4sLQL")

_NO_DIRECTORY: Final = 2**63
"""Told of an archive whose end makes no sense: more than anybody allows."""


def directory_of(file: BinaryIO) -> tuple[int, int]:
    """Tell how many entries an archive has, and the bytes of its directory.

    Parameters
    ----------
    file
        The archive; its place in it is moved.

    Returns
    -------
    int, int
        Entries and bytes; more than any limit where that cannot be told for sure, as behind a comment.

    Examples
    --------
    >>> import io, zipfile
    >>> file = io.BytesIO()
    >>> with zipfile.ZipFile(file, "w") as archive:
    ...     archive.writestr("a.txt", "oak")
    >>> directory_of(file)  # 46 bytes and the name
    (1, 51)
    """
    file_bytes = file.seek(0, os.SEEK_END)
    end_at = file_bytes - _END.size
    end = _read(file, end_at, _END)
    if end is None or end[0] != b"PK\x05\x06" or end[7] != 0:
        return _NO_DIRECTORY, _NO_DIRECTORY
    locator = _read(file, end_at - _LOCATOR_64.size, _LOCATOR_64)
    if locator is None or locator[0] != b"PK\x06\x07":
        return int(end[4]), int(end[5])
    # Larger archives tell it right before that; whoever says it lies elsewhere hides something.
    large_at = end_at - _LOCATOR_64.size - _END_64.size
    large = _read(file, large_at, _END_64)
    if large is None or large[0] != b"PK\x06\x06" or locator[2] != large_at:
        return _NO_DIRECTORY, _NO_DIRECTORY
    return int(large[7]), int(large[8])


def _read(file: BinaryIO, at: int, form: struct.Struct) -> tuple[Any, ...] | None:
    """Read a record; None where the file does not reach."""
    if at < 0:
        return None
    file.seek(at)
    data = file.read(form.size)
    return form.unpack(data) if len(data) == form.size else None
