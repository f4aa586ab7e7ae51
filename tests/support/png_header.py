"""A PNG that promises more than it holds."""

from __future__ import annotations

import struct
import zlib


def png_header(width, height, *, depth=1):
    """A PNG that promises a size and ends after a first, empty piece of data."""

    def chunk(kind, data):
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    head = struct.pack(">IIBBBBB", width, height, depth, 0, 0, 0, 0)
    body = zlib.compress(b"")
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body)
