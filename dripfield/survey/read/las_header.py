"""The header of a LAS or LAZ file held against the file's size, before any decoder sees it.

Layout after the LAS specification 1.0 to 1.4 (ASPRS), and for compressed points the chunk table of
the LASzip format (both from memory). Counts and offsets of a damaged file can ask a decoder for
any amount of memory; here each must fit into the bytes that are there.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from dripfield.core.errors import InputError, input_error
from dripfield.core.limits import check_count, most

_HEADERS = {0: 227, 1: 227, 2: 227, 3: 235, 4: 375}
"""Least bytes of the public header by minor version."""
_RECORDS = (20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67)
"""Least bytes of a point by its format."""
_VLR, _EVLR = 54, 60  # bytes before what a variable or extended record holds
_COMPRESSED = 0x80
_LASZIP = b"laszip encoded"
_CHUNKS_VARY = 0xFFFFFFFF


@dataclass(frozen=True)
class LasHeader:
    """What is needed to read the points: how many, where they begin, whether compressed."""

    points: int
    start: int
    compressed: bool


def check_las(path: Path) -> LasHeader:
    """Read a header and refuse what the file's size says cannot be.

    Raises
    ------
    InputError
        Another version, a damaged header, more records or points than the file has room for.
    """
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(375)
        if len(head) < 227 or head[:4] != b"LASF":
            raise _damaged(path, "the header is cut short")
        major, minor = head[24], head[25]
        if major != 1 or minor not in _HEADERS:
            raise input_error(
                f"it is of version {major}.{minor}", "export it as LAS 1.2 or 1.4", file=path
            )
        length, start, records = struct.unpack_from("<HII", head, 94)
        kind, width, count = struct.unpack_from("<BHI", head, 104)
        if length < _HEADERS[minor] or len(head) < _HEADERS[minor] or not length <= start <= size:
            raise _damaged(path, "the header's lengths do not fit the file")
        if minor == 4:
            extended, more, long_count = struct.unpack_from("<QIQ", head, 235)
            count = long_count or count
            _check_extended(stream, extended, more, size, path)
        form = kind & 0x3F
        if form >= len(_RECORDS) or width < _RECORDS[form]:
            raise _damaged(path, f"points of format {form} in {width} bytes")
        packed = _check_records(stream, length, start, records, path)
        compressed = bool(kind & _COMPRESSED)
        if not compressed and count * width > size - start:
            raise input_error(
                f"it stops after {(size - start) // width:,} of {count:,} points",
                "copy or export it again",
                file=path,
            )
        if compressed:
            if packed is None:
                raise _damaged(path, "it says nothing of how its points are compressed")
            _check_chunks(stream, start, size, count, packed, path)
    return LasHeader(count, start, compressed)


def _check_records(
    stream: BinaryIO, length: int, start: int, records: int, path: Path
) -> bytes | None:
    """Walk the variable records; what the one about compression holds."""
    if records * _VLR > start - length:
        raise _damaged(path, f"{records:,} header records in {start - length:,} bytes")
    check_count("records", records, path, "export it again")
    packed, at = None, length
    for _ in range(records):
        stream.seek(at)
        head = stream.read(_VLR)
        if len(head) < _VLR:
            raise _damaged(path, "a header record is cut short")
        held = struct.unpack_from("<H", head, 20)[0]
        if at + _VLR + held > start:
            raise _damaged(path, "a header record runs into the points")
        if head[2:18].rstrip(b"\0") == _LASZIP:
            packed = stream.read(held)
        at += _VLR + held
    return packed


def _check_extended(stream: BinaryIO, at: int, records: int, size: int, path: Path) -> None:
    """Walk the extended records behind the points."""
    if not records:
        return
    check_count("records", records, path, "export it again")
    for _ in range(records):
        if at + _EVLR > size:
            raise _damaged(path, f"{records:,} extended records behind the end of the file")
        stream.seek(at)
        held = struct.unpack_from("<Q", stream.read(_EVLR), 20)[0]
        at += _EVLR + held
        if at > size:
            raise _damaged(path, "an extended record is cut short")


def _check_chunks(
    stream: BinaryIO, start: int, size: int, count: int, packed: bytes, path: Path
) -> None:
    """Hold the chunk table against the points and the bytes there are."""
    if len(packed) < 34:
        raise _damaged(path, "the record about compression is cut short")
    chunk, items = struct.unpack_from("<I", packed, 12)[0], struct.unpack_from("<H", packed, 32)[0]
    if len(packed) < 34 + 6 * items or not items:
        raise _damaged(path, "the record about compression is cut short")
    if not count:
        return
    stream.seek(start)
    table = struct.unpack("<q", _exactly(stream, 8, path))[0]
    if table == -1:  # written last where the writer could not go back
        stream.seek(size - 8)
        table = struct.unpack("<q", _exactly(stream, 8, path))[0]
    if not start + 8 <= table <= size - 8:
        raise _damaged(path, "its chunk table lies outside the file")
    stream.seek(table)
    version, chunks = struct.unpack("<II", _exactly(stream, 8, path))
    wanted = chunks if chunk == _CHUNKS_VARY or not chunk else -(-count // chunk)
    if version != 0 or chunks > table - start or chunks != wanted:
        raise _damaged(path, f"{chunks:,} chunks of points where {wanted:,} are stated")
    if count > most("cloud bytes") or chunk == 0:
        raise _damaged(path, f"{count:,} points in chunks of {chunk:,}")


def _exactly(stream: BinaryIO, length: int, path: Path) -> bytes:
    data = stream.read(length)
    if len(data) < length:
        raise _damaged(path, "it is cut short")
    return data


def _damaged(path: Path, problem: str) -> InputError:
    return input_error(
        f"the LAS file is damaged or cut short ({problem})", "export it again", file=path
    )
