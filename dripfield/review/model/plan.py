"""An approved plan as data: what its sheet says of each run, however it was given."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.lengths import METRES, UNIT_WORDS
from dripfield.core.limits import check_count, check_places
from dripfield.core.similarity import Similarity
from dripfield.core.units import Unit


@dataclass(frozen=True)
class PlanRun:
    """One run of tubing on the approved plan.

    Attributes
    ----------
    name : str
        As on the plan, or ``run 1`` … where it gives none.
    xy : (k, 2) float array or None
        Its drawn line, easting and northing [plan unit until registered, then site unit].
    length, elevation, spacing : float or None
        As written on the plan [site unit].
    row : int or None
        Row of the table it stands in.
    named : bool
        False when the plan gives no name and ``name`` is only a number.
    bare : tuple of str
        Which of ``length`` and ``elevation`` stand without a unit in a plan whose lines are in
        another unit than the site: as written until
        :func:`~dripfield.review.place.written.settle_written`.
    """

    name: str
    xy: Floats | None = None
    length: float | None = None
    elevation: float | None = None
    spacing: float | None = None
    row: int | None = None
    named: bool = True
    bare: tuple[str, ...] = ()


@dataclass(frozen=True)
class StatedTotals:
    """Totals that a sheet states beside its runs or instead of them [site unit]; None if not."""

    length: float | None = None
    runs: int | None = None
    area: float | None = None
    spacing: float | None = None

    @property
    def any(self) -> bool:
        """Whether the sheet states one."""
        return any(one is not None for one in (self.length, self.runs, self.area, self.spacing))


@dataclass(frozen=True)
class Picture:
    """A scan or photo of a plan.

    ``size`` is its width and height, in pixels, or in inches (millimetres) of paper where it is the
    ``page`` of a document. Coordinates on it run to the right and up from its lower left corner;
    ``move`` lays them on the site, None until it is placed.
    """

    path: Path
    size: tuple[float, float]
    page: int | None = None
    move: Similarity | None = None


@dataclass(frozen=True)
class Plan:
    """The approved plan as read.

    Attributes
    ----------
    source : Path
    runs : tuple of PlanRun
    boundary : Polygon or None
        The bed's outline as drawn.
    points : dict of str to (2,) float array
        Named points that the site may have too.
    declared : str or None
        Key of :data:`~dripfield.core.lengths.METRES` that the file itself names.
    totals : StatedTotals
        What the sheet states as totals.
    notes : tuple of str
        What the reader wants said about it.
    picture : Picture or None
        A scan that shows the plan to the eye alone.
    paper_scale : float or None
        Site units to one unit of paper (inches for a site in feet, millimetres for one in metres),
        as a person or the sheet states it.
    ambiguous : str
        Why the way round of a plan that was moved is not settled; empty where it is.
    """

    source: Path
    runs: tuple[PlanRun, ...]
    boundary: Polygon | None = None
    points: dict[str, Floats] = field(default_factory=dict)
    declared: str | None = None
    totals: StatedTotals = StatedTotals()
    notes: tuple[str, ...] = ()
    picture: Picture | None = None
    paper_scale: float | None = None
    ambiguous: str = ""

    @property
    def is_drawn(self) -> bool:
        """True when there are runs and each has a line."""
        return bool(self.runs) and all(run.xy is not None for run in self.runs)


@dataclass(frozen=True)
class PlanOptions:
    """How a person says a plan is to be read.

    ``layer``, ``boundary_layer`` name layers of a drawing; ``units`` is the unit of the plan's
    numbers (a key of :data:`~dripfield.core.lengths.METRES`), None for the site's;
    ``allow_mirrored`` and ``any_scale`` accept what is refused otherwise. ``page`` is the page of a
    document, from 1; ``stated_scale`` the scale that a person says it has, as written.
    """

    layer: str | None = None
    boundary_layer: str | None = None
    units: str | None = None
    allow_mirrored: bool = False
    any_scale: bool = False
    page: int = 1
    stated_scale: str | None = None

    def factor(self, unit: Unit) -> float:
        """Site units in one plan unit."""
        return 1.0 if self.units is None else METRES[self.units] / unit.metres


def units_option(units: str) -> str:
    """How to accept a plan in another unit, for the end of a message."""
    return f"give --plan-units {units} if the plan is in {UNIT_WORDS[units]}"


def name_key(name: str) -> str:
    """A name without what people write differently: ``Lateral L-05``, ``l5`` and ``5`` are ``5``.

    Words for a lateral, its ``L``, case, blanks, signs and leading zeros do not count.
    """
    text = re.sub(r"\b(lateral|lat|line|run|no|number)\b\.?", " ", name.lower())
    parts = re.findall(r"[a-z]+|\d+", text)
    key = "-".join(part.lstrip("0") or "0" if part.isdigit() else part for part in parts).upper()
    return re.sub(r"(?:^|(?<=-))L-(?=\d)", "", key) or name.strip().upper()


def check_names(runs: Sequence[PlanRun], source: Path) -> None:
    """Refuse two runs with one name, names of no end, and more runs than any bed has.

    Raises
    ------
    InputError
        Naming both, and their rows where they have them.
    """
    check_count("runs", len(runs), source, "keep the laterals only")
    for run in runs:
        check_count(
            "name characters",
            len(run.name),
            source,
            "shorten it",
            row=run.row,
            subject=f"the name {run.name[:20]!r} …",
        )
        if run.xy is not None:
            check_places(run.xy, source, f"vertex of run {run.name!r}, number")
    seen: dict[str, PlanRun] = {}
    for run in filter(lambda run: run.named, runs):
        first = seen.setdefault(name_key(run.name), run)
        if first is run:
            continue
        spelt = repr(run.name) if run.name == first.name else f"{first.name!r} and {run.name!r}"
        where = f" (rows {first.row} and {run.row})" if run.row is not None else ""
        raise input_error(
            f"two runs have one name, {spelt}{where}", "name each run once", file=source
        )


def ring_of(xy: Floats) -> Polygon | None:
    """The polygon of a ring (k, 2), or None where it encloses nothing or crosses itself."""
    if len(xy) < 4:
        return None
    polygon = shapely.polygons(xy)
    return polygon if polygon.is_valid and polygon.area > 0.0 else None
