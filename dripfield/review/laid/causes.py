"""What many differences of a record have in common: one shift, one turn, labels exchanged."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.similarity import fit_similarity
from dripfield.review.laid.record_result import RecordLine
from dripfield.review.model.limits import Limits
from dripfield.site.model import Site

_FEWEST = 3  # laterals that are off, before a cause is looked for
_EXPLAINED = 0.8  # of the laterals that are off are right once a cause is taken off
_ROUNDS = 3


def common_causes(lines: Sequence[RecordLine], limits: Limits, site: Site) -> list[str]:
    """Name what explains most of the laterals that are off at once.

    Parameters
    ----------
    lines : sequence of RecordLine
    limits : Limits
    site : Site

    Returns
    -------
    list of str
        Labels exchanged; else a shift or a turn in plan, and a shift or a tilt in height. Shifts
        are medians, so that a blunder does not set them. Empty where nothing is common.
    """
    known = [line for line in lines if line.lateral is not None and len(line.xyz)]
    said = _exchanged(known, limits)
    if said:
        return said
    return [*_in_height(known, limits, site), *_in_plan(known, limits, site)]


def _exchanged(lines: Sequence[RecordLine], limits: Limits) -> list[str]:
    """Labels that fit the laterals when given to others, one to one."""
    from scipy.optimize import linear_sum_assignment

    if len(lines) < 2:
        return []
    designs = np.array([shapely.linestrings(_of(line) - _of(lines[0])[0]) for line in lines])
    shots = [shapely.points(line.xyz[:, :2] - _of(lines[0])[0]) for line in lines]
    gap = np.array([shapely.distance(own[:, None], designs).mean(axis=0) for own in shots])
    rows, columns = linear_sum_assignment(gap)
    other = {int(i): int(j) for i, j in zip(rows, columns, strict=True) if i != j}
    fit = {
        i: j
        for i, j in other.items()
        if gap[i, i] > limits.offset.limit and gap[i, j] <= limits.offset.limit
    }
    if not fit or fit.keys() != other.keys():
        return []
    if len(fit) == 2:
        first, second = (lines[i].name for i in fit)
        return [
            f"the labels {first} and {second} are exchanged: the shots of each lie on the other"
        ]
    moved = ", ".join(f"{lines[i].name} lies on {lines[j].name}" for i, j in list(fit.items())[:4])
    return [f"{len(fit)} labels are given to other laterals: {moved} …"]


def _of(line: RecordLine) -> Floats:
    assert line.lateral is not None
    return line.lateral.xy


def _in_height(lines: Sequence[RecordLine], limits: Limits, site: Site) -> list[str]:
    unit, places = site.unit.short, site.unit.places
    own = [_heights(line, limits) for line in lines]
    xy = [line.xyz[:, :2] for line in lines]
    limit = limits.elevation.limit

    def off(taken: Callable[[int], Floats | float]) -> int:
        return sum(
            bool(len(one)) and bool(np.nanmax(np.abs(one - taken(i))) > limit + 1e-6)
            for i, one in enumerate(own)
        )

    if not any(np.isfinite(one).any() for one in own):
        return []
    before = off(lambda i: 0.0)
    middle = float(np.nanmedian(np.concatenate(own)))
    if before < _FEWEST:
        return []
    word = "high" if middle > 0.0 else "low"
    after = off(lambda i: middle)
    if abs(middle) > limits.elevation.same and before - after >= _EXPLAINED * before:
        every = f"all {before}" if before == len(lines) else f"{before} of {len(lines)}"
        return [
            f"{every} laterals are {word} by {abs(middle):.{places}f} {unit} (median); without it "
            f"{len(lines) - after} of {len(lines)} are level: the benchmark, the rod, or the depth "
            "at which the shots were taken ([review] laid_depth)?"
        ]
    plane, fall, toward = _tilt(np.concatenate(xy), np.concatenate(own))
    after = off(lambda i: plane(xy[i]))
    if before - after >= _EXPLAINED * before:
        return [
            f"the shots tilt against the design, {fall:.2g} {unit} in 100 {unit} upward to "
            f"{toward:.0f}°; without it {len(lines) - after} of {len(lines)} are level: the "
            "instrument was not level?"
        ]
    return []


def _heights(line: RecordLine, limits: Limits) -> Floats:
    assert line.lateral is not None
    off: Floats = line.xyz[:, 2] + limits.laid_depth - line.lateral.elevation
    return off


def _tilt(xy: Floats, off: Floats) -> tuple[Callable[[Floats], Floats], float, float]:
    """A plane through differences, its rise in 100 and the bearing it rises to [degrees]."""
    known = np.isfinite(off)
    middle = xy[known].mean(axis=0)
    keep = known.copy()
    solved = np.zeros(3)
    for _ in range(_ROUNDS):
        if keep.sum() < 4:
            break
        table = np.column_stack((np.ones(keep.sum()), xy[keep] - middle))
        solved = np.linalg.lstsq(table, off[keep], rcond=None)[0]
        left = np.abs(off - solved[0] - (xy - middle) @ solved[1:])
        spread = float(np.median(left[known]))
        keep = known & (left <= max(4.0 * spread, 1e-3))

    def plane(at: Floats) -> Floats:
        height: Floats = solved[0] + (at - middle) @ solved[1:]
        return height

    rise = 100.0 * float(np.hypot(*solved[1:]))
    return plane, rise, math.degrees(math.atan2(solved[1], solved[2])) % 360.0


def _in_plan(lines: Sequence[RecordLine], limits: Limits, site: Site) -> list[str]:
    unit, places = site.unit.short, site.unit.places
    whole = [line for line in lines if len(line.xyz) > 1]
    shift = _of(whole[0])[0] if whole else np.zeros(2)
    if not whole:
        return []
    designs = [shapely.linestrings(_of(line) - shift) for line in whole]
    shots = [line.xyz[:, :2] - shift for line in whole]
    ends = [_of(line)[[0, -1]] - shift for line in whole]

    def off(move: Callable[[Floats], Floats]) -> int:
        count = 0
        for design, shot, end in zip(designs, shots, ends, strict=True):
            placed = move(shot)
            aside = shapely.distance(shapely.points(placed), design).max()
            short = np.hypot(*(placed[[0, -1]] - end).T).max()
            count += bool(max(aside, short) > limits.offset.limit + 1e-6)
        return count

    before = off(lambda xy: xy)
    if before < _FEWEST:
        return []
    laid = np.concatenate([shot[[0, -1]] for shot in shots])
    meant = np.concatenate(ends)
    east, north = np.median(laid - meant, axis=0)
    after = off(lambda xy: xy - (east, north))
    if before - after >= _EXPLAINED * before:
        far = math.hypot(east, north)
        bearing = math.degrees(math.atan2(east, north)) % 360.0
        return [
            f"the laterals lie {far:.{places}f} {unit} towards {bearing:.0f}° of the design as one "
            f"({_signed(north, places)} north, {_signed(east, places)} east, median); without it "
            f"{len(whole) - after} of {len(whole)} are in place: the control points, or the whole "
            "field moved?"
        ]
    keep = np.full(len(laid), True)
    for _ in range(_ROUNDS):
        fit = fit_similarity(laid[keep], meant[keep], scale=1.0)
        left = np.hypot(*(fit.apply(laid) - meant).T)
        keep = left <= max(4.0 * float(np.median(left)), 1e-3)
        if keep.sum() < 3:
            return []
    after = off(fit.apply)
    if before - after >= _EXPLAINED * before:
        turn = math.degrees(math.remainder(fit.turn, math.tau))
        way = "clockwise" if turn > 0.0 else "anticlockwise"
        return [
            f"the laterals are turned {abs(turn):.2f} degrees {way} against the design; without "
            f"it {len(whole) - after} of {len(whole)} are in place: the backsight?"
        ]
    return []


def _signed(value: float, places: int) -> str:
    return f"{value:+.{places}f}"
