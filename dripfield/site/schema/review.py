"""``[review]``: limits that a reviewer sets, marks to tie from, setbacks to check."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

Positive = Annotated[float, Meta(gt=0)]
NotNegative = Annotated[float, Meta(ge=0)]
Fraction = Annotated[float, Meta(ge=0, lt=1)]


class ReferenceTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[review.references]]``: a permanent point that the record drawing measures from."""

    name: Annotated[str, Meta(min_length=1)]
    northing: float
    easting: float
    description: str | None = None


class ReviewSetbackTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One ``[[review.setbacks]]``: a distance that is checked but does not shape the layout."""

    name: str
    points: str
    distance: Positive
    shape: Literal["point", "line", "ring"] = "point"
    kind: Literal["well", "property line", "building", "water", "keepout", "other"] = "other"
    source: str | None = None


class ReviewTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """``[review]``.

    Each ``…_conforms`` is the greatest difference that still counts as the same, each ``…_limit``
    the greatest that is allowed, in the site's unit; for totals they are fractions. ``None`` means
    the round value for the unit, filled in by :mod:`dripfield.review.model.limits`.

    Attributes
    ----------
    tie_accuracy : float, optional
        How well a tied point must be found again from its two ties.
    tie_error : float, optional
        How far a taped tie may be off.
    laid_depth : float
        How far below the elevation that was set the shots were taken: 0 for shots on the ground.
    shot_accuracy : float, optional
        How far a shot of what was laid may be off.
    shot_spacing : float, optional
        Most between two shots along a lateral that proves what lies between them.
    conditions : list of str
        The reviewer's conditions, printed on the sheets.
    """

    length_conforms: NotNegative | None = None
    length_limit: NotNegative | None = None
    elevation_conforms: NotNegative | None = None
    elevation_limit: NotNegative | None = None
    offset_conforms: NotNegative | None = None
    offset_limit: NotNegative | None = None
    spacing_conforms: NotNegative | None = None
    spacing_limit: NotNegative | None = None
    total_conforms: Fraction = 0.005
    total_limit: Fraction = 0.02
    tie_accuracy: Positive | None = None
    tie_error: Positive | None = None
    laid_depth: NotNegative = 0.0
    shot_accuracy: NotNegative | None = None
    shot_spacing: Positive | None = None
    conditions: list[str] = []
    references: list[ReferenceTable] = []
    setbacks: list[ReviewSetbackTable] = []
