"""What a file is, from its first bytes."""

from __future__ import annotations

from pathlib import Path

from dripfield.core.errors import input_error
from dripfield.core.limits import most
from dripfield.core.textfile import check_plain_file, read_text

_SIGNATURES = (
    (b"PK\x03\x04", "a zip archive (or a spreadsheet, which is one inside)"),
    (b"%PDF", "a PDF document"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet or office document"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"AC10", "a DWG drawing"),
    (b"AutoCAD Binary DXF", "a binary DXF drawing"),
    (b"LASF", "a LAS point cloud"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"SQLite format 3", "an SQLite database or GeoPackage"),
)


def kind_from_content(head: bytes) -> str | None:
    """What the first bytes of a file say it is, in words, or None where they say nothing."""
    return next((kind for mark, kind in _SIGNATURES if head.startswith(mark)), None)


def read_survey_text(path: Path, most_bytes: int = most("text bytes")) -> str:
    """Read a text file whole, after a look at what it really is.

    Parameters
    ----------
    path : Path
    most_bytes : int
        Larger files are refused unread.

    Returns
    -------
    str
        As :func:`dripfield.core.textfile.read_text` gives it.

    Raises
    ------
    InputError
        Where the file is missing, empty, too large, not text, or of a kind its first
        bytes give away whatever its ending.
    """
    check_plain_file(path, most_bytes)
    with path.open("rb") as stream:
        kind = kind_from_content(stream.read(64))
    if kind is not None:
        raise input_error(
            f"it is {kind}, not text",
            "export the points as CSV, LandXML, DXF or GeoJSON",
            file=path,
        )
    return read_text(path, most_bytes)
