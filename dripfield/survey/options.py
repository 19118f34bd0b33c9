"""``[survey]``: where the shots are and how their file is written."""

from __future__ import annotations

from typing import Literal

import msgspec


class Exclusion(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[survey.exclude]]``: a shot left out, by its name, and why."""

    point: str
    reason: str


class SurveyTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[survey]``.

    Attributes
    ----------
    points : str
        The survey file; its kind is known from its ending and content.
    order : str, optional
        Columns of a delimited file without a header, a letter each: P point, N or Y northing,
        E or X easting, Z elevation, D description, - a column to pass over.
    decimal : str
        Decimal sign of a delimited file.
    no_reading : str, optional
        What to do with elevations that look like "no reading" (0, -9999 …): skip or keep them.
    exclude : list of Exclusion
        Shots left out of the surface.
    """

    points: str
    order: str | None = None
    decimal: Literal[".", ","] = "."
    no_reading: Literal["skip", "keep"] | None = None
    exclude: list[Exclusion] = []
