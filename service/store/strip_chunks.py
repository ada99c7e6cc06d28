"""PNG and WebP without the notes in them: the picture's own chunks, copied, and fresh notes."""

import struct
import zlib
from collections.abc import Iterator
from typing import Final

PNG_START: Final = b"\x89PNG\r\n\x1a\n"
#: What a PNG's pixels need (W3C PNG, chunk specifications): header, palette, transparency, pixels, end.
PNG_NEEDED: Final = frozenset({b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"})
#: The same for a WebP of one picture (RFC 9649).
WEBP_NEEDED: Final = frozenset({b"VP8 ", b"VP8L", b"ALPH"})

_HAS_ALPHA: Final = 0x10
_HAS_EXIF: Final = 0x08


def strip_png(data: bytes, tiff: bytes) -> bytes:
    r"""Keep the chunks that the pixels need; what follows the last one is dropped.

    Parameters
    ----------
    data
        A PNG that a decoder has opened.
    tiff
        Content of the eXIf chunk to put in; empty for none.

    Raises
    ------
    ValueError
        It is no PNG, or breaks off.

    Examples
    --------
    >>> chunk = lambda name, body: _png_chunk(name, body)
    >>> whole = PNG_START + chunk(b"IHDR", b"1") + chunk(b"tEXt", b"me") + chunk(b"IEND", b"") + b"more"
    >>> strip_png(whole, b"") == PNG_START + chunk(b"IHDR", b"1") + chunk(b"IEND", b"")
    True
    """
    if not data.startswith(PNG_START):
        raise ValueError("no PNG")
    kept = [PNG_START]
    for name, body in _png_chunks(data):
        if name in PNG_NEEDED:
            kept.append(_png_chunk(name, body))
        if name == b"IHDR" and tiff:
            kept.append(_png_chunk(b"eXIf", tiff))
    return b"".join(kept)


def _png_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = len(PNG_START)
    while at + 12 <= len(data):
        (length,) = struct.unpack_from(">I", data, at)
        name = data[at + 4 : at + 8]
        yield name, data[at + 8 : at + 8 + length]
        if name == b"IEND":
            return
        at += 12 + length
    raise ValueError("the picture breaks off")


def _png_chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def strip_webp(data: bytes, tiff: bytes) -> bytes | None:
    r"""Keep the chunks that the pixels need; None when it is a film, whose pictures lie deeper.

    Parameters
    ----------
    data
        A WebP that a decoder has opened.
    tiff
        Content of the EXIF chunk to put in; empty for none.

    Raises
    ------
    ValueError
        It is no WebP.

    Examples
    --------
    >>> strip_webp(b"RIFF\x1e\x00\x00\x00WEBP" b"VP8L\x02\x00\x00\x00ab" b"XMP \x02\x00\x00\x00me", b"")
    b'RIFF\x0e\x00\x00\x00WEBPVP8L\x02\x00\x00\x00ab'
    """
    if data[:4] != b"RIFF" or data[8:12] != b"WEBP":
        raise ValueError("no WebP")
    kept: list[bytes] = []
    extended = b""
    for name, body in _webp_chunks(data):
        if name in (b"ANIM", b"ANMF"):
            return None
        if name == b"VP8X" and len(body) >= 10:
            extended = body[:10]
        elif name in WEBP_NEEDED:
            kept.append(_webp_chunk(name, body))
    if extended and (extended[0] & _HAS_ALPHA or tiff):
        flags = (extended[0] & _HAS_ALPHA) | (_HAS_EXIF if tiff else 0)
        kept.insert(0, _webp_chunk(b"VP8X", bytes([flags, 0, 0, 0]) + extended[4:]))
        kept += [_webp_chunk(b"EXIF", tiff)] if tiff else []
    content = b"WEBP" + b"".join(kept)
    return b"RIFF" + struct.pack("<I", len(content)) + content


def _webp_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 12
    while at + 8 <= len(data):
        (length,) = struct.unpack_from("<I", data, at + 4)
        yield data[at : at + 4], data[at + 8 : at + 8 + length]
        at += 8 + length + length % 2


def _webp_chunk(name: bytes, body: bytes) -> bytes:
    return name + struct.pack("<I", len(body)) + body + b"\x00" * (len(body) % 2)
