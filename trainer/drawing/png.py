"""PNG files, written whole and read back, with nothing but the standard library and numpy.

ISO/IEC 15948: signature, chunks with CRC, zlib stream of filtered rows. `pHYs` carries the pixels a
metre, so that a picture prints at its true size.
"""

import struct
import zlib
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from trainer.instrument import whole_file
from trainer.instrument.refusal import Refusal

SIGNATURE = b"\x89PNG\r\n\x1a\n"
Pixels = NDArray[np.uint8]


class UnwritablePicture(Refusal):
    """A picture cannot be written where it was asked for."""


class UnreadablePicture(Refusal):
    """A file is not a picture that this module can read."""


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def encoded(pixels: Pixels, px_per_mm: float | None = None, texts: Mapping[str, str] | None = None) -> bytes:
    """Return the bytes of a PNG file.

    `pixels` has shape (height, width) for grey or (height, width, 3) for sRGB, 8 bits each. Rows are
    filtered by their difference from the row above, which suits brushed metal.
    """
    height, width = pixels.shape[:2]
    colours = 1 if pixels.ndim == 2 else pixels.shape[2]
    flat = np.ascontiguousarray(pixels).reshape(height, width * colours)
    rows = np.empty((height, width * colours + 1), dtype=np.uint8)
    rows[:, 0] = 2  # filter "up"
    rows[0, 1:] = flat[0]
    np.subtract(flat[1:], flat[:-1], out=rows[1:, 1:])
    parts = [SIGNATURE]
    kind = {1: 0, 3: 2}[colours]
    parts.append(_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, kind, 0, 0, 0)))
    parts.append(_chunk(b"sRGB", b"\x00"))
    if px_per_mm is not None:
        per_metre = round(px_per_mm * 1000)
        parts.append(_chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)))
    for key, text in (texts or {}).items():
        parts.append(_chunk(b"iTXt", key.encode("latin-1") + b"\0\0\0\0\0" + text.encode("utf-8")))
    parts.append(_chunk(b"IDAT", zlib.compress(rows.tobytes(), 4)))
    parts.append(_chunk(b"IEND", b""))
    return b"".join(parts)


def write(
    path: str | Path, pixels: Pixels, px_per_mm: float | None = None, texts: Mapping[str, str] | None = None
) -> None:
    """Write a picture as a PNG file; it appears whole or not at all.

    Raise `UnwritablePicture` where the path cannot be written.
    """
    write_whole(path, encoded(pixels, px_per_mm, texts))


def write_whole(path: str | Path, body: bytes) -> None:
    """Write a picture's file so that it appears whole or not at all, or raise `UnwritablePicture`."""
    try:
        whole_file.write_whole(Path(path), body)
    except OSError as reason:
        raise UnwritablePicture(f"{path} cannot be written: {_why(reason)}; choose another place") from reason


def _why(reason: OSError) -> str:
    return (reason.strerror or "the system refused").lower()


def read(path: str | Path) -> Pixels:
    """Return the pixels of an 8-bit grey or sRGB PNG file, shape (height, width) or (height, width, 3).

    Raise `UnreadablePicture` for anything else.
    """
    body = Path(path).read_bytes()
    if not body.startswith(SIGNATURE):
        raise UnreadablePicture(f"{path} is not a PNG file")
    chunks = _chunks(body, path)
    width, height, depth, kind, *_, interlaced = struct.unpack(">IIBBBBB", chunks[b"IHDR"])
    if depth != 8 or kind not in (0, 2) or interlaced:
        raise UnreadablePicture(f"{path} is not an 8-bit grey or RGB PNG file without interlacing")
    colours = 3 if kind == 2 else 1
    try:
        raw = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), dtype=np.uint8)
        rows = raw.reshape(height, width * colours + 1)
    except (zlib.error, ValueError):
        raise UnreadablePicture(f"{path} is a PNG file whose pixels are damaged") from None
    pixels = _unfiltered(rows, colours, path)
    return pixels.reshape((height, width) if colours == 1 else (height, width, colours))


def texts_of(path: str | Path) -> dict[str, str]:
    """Return the texts that a PNG file of `write` carries."""
    body = Path(path).read_bytes()
    found = {}
    at = len(SIGNATURE)
    while at < len(body):
        (length,) = struct.unpack(">I", body[at : at + 4])
        if body[at + 4 : at + 8] == b"iTXt":
            key, rest = body[at + 8 : at + 8 + length].split(b"\0", 1)
            found[key.decode("latin-1")] = rest[4:].decode("utf-8")
        at += 12 + length
    return found


def _chunks(body: bytes, path: str | Path) -> dict[bytes, bytes]:
    """Return the chunks of a file by kind; those of one kind are joined."""
    chunks: dict[bytes, bytes] = {}
    at = len(SIGNATURE)
    while at + 12 <= len(body):
        (length,) = struct.unpack(">I", body[at : at + 4])
        kind, content = body[at + 4 : at + 8], body[at + 8 : at + 8 + length]
        chunks[kind] = chunks.get(kind, b"") + content
        at += 12 + length
    if b"IHDR" not in chunks or b"IDAT" not in chunks or b"IEND" not in chunks:
        raise UnreadablePicture(f"{path} is a PNG file that breaks off early")
    return chunks


def _unfiltered(rows: Pixels, colours: int, path: str | Path) -> Pixels:
    """Return pixel rows with the filters of PNG undone: none, sub and up."""
    pixels = np.empty((rows.shape[0], rows.shape[1] - 1), dtype=np.uint8)
    above = np.zeros(rows.shape[1] - 1, dtype=np.uint8)
    for number, row in enumerate(rows):
        match row[0]:
            case 0:
                pixels[number] = row[1:]
            case 1:
                steps = row[1:].reshape(-1, colours)
                pixels[number] = np.cumsum(steps, axis=0, dtype=np.uint8).ravel()
            case 2:
                np.add(row[1:], above, out=pixels[number])
            case _:
                raise UnreadablePicture(f"{path} uses a PNG filter that is not read here")
        above = pixels[number]
    return pixels
