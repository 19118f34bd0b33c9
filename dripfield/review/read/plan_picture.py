"""The approved plan as a scan or a photo: shown to the eye, never read."""

from __future__ import annotations

import warnings
from pathlib import Path

from dripfield.core.errors import input_error
from dripfield.core.limits import check_count, most
from dripfield.core.textfile import check_plain_file
from dripfield.review.model.plan import Picture, Plan

PICTURES = (".png", ".jpg", ".jpeg", ".tif", ".tiff")
"""Endings of pictures that are read."""


def read_plan_picture(path: Path) -> Plan:
    """Look at a picture's size; its lines are not read.

    Parameters
    ----------
    path : Path
        PNG, JPEG or TIFF.

    Returns
    -------
    Plan
        Without runs.

    Raises
    ------
    InputError
        Missing, too large, or no such picture.
    """
    check_plain_file(path, most("picture bytes"))
    width, height = _opened(path, whole=False)
    check_count("pixels", width * height, path, "scan it at 300 to the inch or less")
    width, height = _opened(path, whole=True)  # one cut short is refused now, not when drawn
    note = f"{path.name} is a picture of {width} by {height} pixels: its lines are not read"
    return Plan(path, (), picture=Picture(path, (float(width), float(height))), notes=(note,))


def _opened(path: Path, *, whole: bool) -> tuple[int, int]:
    """Width and height of the picture as it is looked at, decoded to its end if ``whole``."""
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(path, formats=("PNG", "JPEG", "TIFF")) as image:
                width, height = image.size
                if not whole:
                    return width, height
                image.load()
                turned = image.getexif().get(0x0112, 1) in (5, 6, 7, 8)
    except Exception:  # whatever a decoder raises on bytes of strangers, MemoryError among it
        raise input_error(
            "this is no PNG, JPEG or TIFF that can be read", "scan or export it again", file=path
        ) from None
    return (height, width) if turned else (width, height)
