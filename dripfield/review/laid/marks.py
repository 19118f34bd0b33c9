"""The marks that were shot along with the laterals: whether the shots themselves can be trusted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from dripfield.review.laid.record_result import MarkCheck
from dripfield.review.model.limits import Limits
from dripfield.review.read.shots import LaidShot, mark_of
from dripfield.site.model import Site


@dataclass(frozen=True)
class Accuracy:
    """How far the shots may be off, in plan and in height [site unit]; ``sound``: no mark is."""

    plan: float
    height: float
    sound: bool = True


def check_marks(shots: Sequence[LaidShot], site: Site, limits: Limits) -> list[MarkCheck]:
    """Hold every shot of a benchmark or reference against what the site file gives for it.

    A mark is good when it was shot within the shots' accuracy, or within what counts as the same.

    Parameters
    ----------
    shots : sequence of LaidShot
    site : Site
    limits : Limits

    Returns
    -------
    list of MarkCheck
    """
    known: dict[str, tuple[str, float, float, float]] = {
        one.name.casefold(): (one.name, one.easting, one.northing, math.nan)
        for one in site.file.review.references
    }
    bench = site.file.benchmark
    if bench is not None:
        given = (bench.easting, bench.northing)
        east, north = (math.nan if value is None else value for value in given)
        known[bench.name.casefold()] = (bench.name, east, north, bench.elevation)
    found = []
    for shot in shots:
        if shot.how != "mark":
            continue
        key = mark_of(shot.point, shot.description, known)
        if key is None:
            continue
        name, east, north, height = known[key]
        gap = math.hypot(shot.xyz[0] - east, shot.xyz[1] - north)
        off = float(shot.xyz[2]) - height
        far = gap > max(limits.shot_accuracy, limits.offset.same)
        high = abs(off) > max(limits.shot_accuracy, limits.elevation.same) + 1e-6
        found.append(MarkCheck(name, gap, off, not far and not high))
    return found


def accuracy_of(marks: Sequence[MarkCheck], limits: Limits) -> Accuracy:
    """What the shots can tell: no better than declared, nor than the marks were shot."""
    bad = [mark for mark in marks if not mark.ok]
    gaps = [mark.gap for mark in bad if math.isfinite(mark.gap)]
    heights = [abs(mark.height) for mark in bad if math.isfinite(mark.height)]
    return Accuracy(
        max([limits.shot_accuracy, *gaps]), max([limits.shot_accuracy, *heights]), not bad
    )


def mark_words(mark: MarkCheck, site: Site) -> str:
    """How a mark was shot, in words."""
    unit, places = site.unit.short, site.unit.places
    said = []
    if math.isfinite(mark.gap):
        said.append(f"{mark.gap:.{places}f} {unit} from its place")
    if math.isfinite(mark.height):
        word = "high" if mark.height > 0.0 else "low"
        said.append(f"{abs(mark.height):.{places}f} {unit} {word}")
    return f"{mark.name} was shot {' and '.join(said)}" if said else f"{mark.name} was shot"
