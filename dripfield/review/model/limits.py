"""How much may differ: the reviewer's limits with every default filled in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from dripfield.core.errors import input_error
from dripfield.site.model import Site
from dripfield.site.schema.key import resolve, setting
from dripfield.site.schema.review import ReviewTable


class LineVerdict(Enum):
    """What is said of one line of a comparison or a record, from best to worst."""

    CONFORMS = "conforms"
    WITHIN = "within limits"
    NOT_PROVEN = "not proven"
    NOT_READ = "not read"
    DIFFERS = "does not conform"
    NOT_LAID = "not laid"
    NOT_LAID_OUT = "not laid out"
    NOT_ON_PLAN = "not on plan"

    @property
    def is_yes(self) -> bool:
        """True for the two verdicts that a line may have when the answer is a yes."""
        return self in (LineVerdict.CONFORMS, LineVerdict.WITHIN)

    @property
    def is_no(self) -> bool:
        """True for the verdicts that say that a line is wrong, rather than not known."""
        return not self.is_yes and self not in (LineVerdict.NOT_PROVEN, LineVerdict.NOT_READ)


@dataclass(frozen=True)
class Band:
    """``same``: differences up to here conform; ``limit``: up to here they are allowed."""

    same: float
    limit: float

    def judge(self, difference: float, accuracy: float = 0.0) -> LineVerdict:
        """Verdict on one difference of either sign, in the unit of the band.

        Both bounds are inclusive, with a slack of a millionth for decimals that do not exist in
        binary (100.30 - 100.00 is a little more than 0.30). A difference outside the limit by no
        more than the measurement's ``accuracy`` is not proven.
        """
        size = abs(difference) - 1e-6
        if size <= self.same:
            return LineVerdict.CONFORMS
        if size <= self.limit:
            return LineVerdict.WITHIN
        return LineVerdict.NOT_PROVEN if size <= self.limit + accuracy else LineVerdict.DIFFERS

    def severity(self, difference: float) -> float:
        """The difference as a multiple of the limit, for sorting."""
        if not math.isfinite(difference):
            return 0.0
        return abs(difference) / max(self.limit, 1e-9)


@dataclass(frozen=True)
class Limits:
    """Every limit of ``[review]``, in the site's unit; ``total`` in fractions.

    ``shot_accuracy`` is 0 where the site declares none: then whatever is outside a limit is wrong.
    ``distance_accuracy`` is how well a distance to a feature can be known at all. ``shot_spacing``
    is the most between two shots that proves what lies between them.
    """

    length: Band
    elevation: Band
    offset: Band
    spacing: Band
    total: Band
    tie_accuracy: float
    tie_error: float
    laid_depth: float
    shot_accuracy: float
    distance_accuracy: float
    shot_spacing: float


def review_limits(site: Site) -> Limits:
    """The site's ``[review]`` limits with defaults filled in.

    An elevation may differ by the site's level tolerance, spacing by its spacing tolerance; what
    conforms is half of that. All others have their defaults beside their keys.

    Raises
    ------
    InputError
        A limit is smaller than what already conforms.
    """
    table, unit = site.file.review, site.unit
    usual = resolve(ReviewTable(), unit)

    def band(quantity: str, most: float | None = None) -> Band:
        given_same = getattr(table, f"{quantity}_conforms")
        given_limit = getattr(table, f"{quantity}_limit")
        limit: float = getattr(usual, f"{quantity}_limit") if most is None else most
        same: float = getattr(usual, f"{quantity}_conforms") if most is None else most / 2.0
        limit = limit if given_limit is None else given_limit
        same = min(same, limit) if given_same is None else given_same
        if given_limit is None:
            limit = max(limit, same)
        if same > limit:
            raise input_error(
                f"{quantity}_limit {limit:g} is less than {quantity}_conforms {same:g}",
                "raise the limit or lower what conforms",
                file="site.toml",
                field=f"[review] {quantity}_limit",
            )
        return Band(same, limit)

    settings = site.settings
    return Limits(
        length=band("length"),
        elevation=band("elevation", settings.level_tolerance),
        offset=band("offset"),
        spacing=band("spacing", settings.spacing_tolerance * settings.spacing),
        total=band("total"),
        tie_accuracy=setting(table, "tie_accuracy", unit),
        tie_error=setting(table, "tie_error", unit),
        laid_depth=table.laid_depth,
        shot_accuracy=table.shot_accuracy or 0.0,
        distance_accuracy=unit.default(0.05, 0.015),
        shot_spacing=setting(table, "shot_spacing", unit),
    )
