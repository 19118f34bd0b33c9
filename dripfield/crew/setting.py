"""Where the marks of many crews come to stand, row by row of the field plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from dripfield.core.arrays import Bools, Floats, Ints
from dripfield.core.errors import input_error
from dripfield.core.height_field import HeightField
from dripfield.crew.bent import along, bent_through
from dripfield.crew.errors import CrewErrors
from dripfield.staking.model import FieldMark, FieldPlan


@dataclass(frozen=True)
class AsSet:
    """What crews set.

    Attributes
    ----------
    marks : dict of str to (c, n, 2) float array
        By lateral, in order along it [site unit].
    bent : dict of str to (c, m, 2) float array
        The tubes bent through them.
    again : (c,) int array
        Marks that the rod called for measuring again.
    """

    marks: dict[str, Floats]
    bent: dict[str, Floats]
    again: Ints


def set_marks(
    plan: FieldPlan,
    errors: CrewErrors,
    crews: int,
    seed: int,
    step: float,
    ground: HeightField | None = None,
) -> AsSet:
    """Let crews follow a plan.

    Parameters
    ----------
    plan : FieldPlan
    errors : CrewErrors
    crews : int
        How many crews do the same work.
    seed : int
        The same seed gives the same crews.
    step : float
        Distance between the points that a tube is told by [site unit].
    ground : Ground, optional
        To check marks with the rod; left out, no mark is measured again.

    Returns
    -------
    AsSet

    Raises
    ------
    InputError
        A mark measured from a lateral or a point that is not there when it is set.
    """
    draw = np.random.default_rng(seed)
    points = {point.name: point.xy for point in plan.points}
    marks: dict[str, Floats] = {}
    bent: dict[str, Floats] = {}
    again = np.zeros(crews, dtype=np.int64)
    for name, group in groupby(plan.rows, key=lambda row: row.lateral):
        rows = list(group)
        if name in marks:
            raise _out_of_order(rows[0], name)
        placed = _placed(rows, bent, points, errors, crews, draw)
        if ground is not None:
            off = _off(rows, placed, ground, errors, draw)
            if off.any():
                second = _placed(rows, bent, points, errors, crews, draw)
                placed = np.where(off[..., None], second, placed)
                again += off.sum(axis=1)
        marks[name] = placed
        bent[name] = bent_through(placed, step)
    return AsSet(marks, bent, again)


def _placed(
    rows: Sequence[FieldMark],
    bent: Mapping[str, Floats],
    points: Mapping[str, Floats],
    errors: CrewErrors,
    crews: int,
    draw: np.random.Generator,
) -> Floats:
    """The marks of one lateral as set by each crew, (c, n, 2)."""
    printed = np.array([(row.easting, row.northing) for row in rows])
    placed = printed + draw.normal(0.0, errors.instrument, (crews, len(rows), 2))
    by_stick: dict[str, list[int]] = {}
    for k, row in enumerate(rows):
        if row.method == "tape":
            placed[:, k] = _taped(row, points, errors, crews, draw)
        elif row.method == "gauge":
            by_stick.setdefault(row.above, []).append(k)
    for name, which in by_stick.items():
        if name not in bent:
            raise _out_of_order(rows[which[0]], name)
        own = [rows[k] for k in which]
        placed[:, which] = _gauged(own, printed[which], bent[name], errors, draw)
    return placed


def _taped(
    row: FieldMark,
    points: Mapping[str, Floats],
    errors: CrewErrors,
    crews: int,
    draw: np.random.Generator,
) -> Floats:
    """Where two taped arcs cross, (c, 2)."""
    for name in (row.point_1, row.point_2):
        if name not in points:
            raise _out_of_order(row, name)
    a, b = points[row.point_1], points[row.point_2]
    r1 = row.distance_1 + draw.normal(0.0, errors.tape, crews)
    r2 = row.distance_2 + draw.normal(0.0, errors.tape, crews)
    base = b - a
    apart = float(np.hypot(*base))
    forth = base / apart
    aside = np.array((-forth[1], forth[0]))
    if (np.array((row.easting, row.northing)) - a) @ aside < 0.0:
        aside = -aside
    x = (apart**2 + r1**2 - r2**2) / (2.0 * apart)
    y = np.sqrt(np.maximum(r1**2 - x**2, 0.0))
    return np.asarray(a + x[:, None] * forth + y[:, None] * aside)


def _gauged(
    rows: Sequence[FieldMark],
    printed: Floats,
    bent: Floats,
    errors: CrewErrors,
    draw: np.random.Generator,
) -> Floats:
    """Where the stick's far end comes to lie, (c, k, 2)."""
    shape = len(bent), len(rows)
    station = np.array([row.above_station for row in rows])
    gap = np.array([row.gap for row in rows])
    feet, way = along(bent, station + draw.normal(0.0, errors.station, shape))
    left = np.stack((-way[..., 1], way[..., 0]), axis=-1)
    side = np.sign(((printed - feet) * left).sum(axis=-1).mean(axis=0))
    held = side * (gap + draw.normal(0.0, errors.gauge, shape))
    turn = np.radians(draw.normal(0.0, errors.square, shape))
    stick = np.cos(turn)[..., None] * left + np.sin(turn)[..., None] * way
    return np.asarray(feet + held[..., None] * stick)


def _off(
    rows: Sequence[FieldMark],
    placed: Floats,
    ground: HeightField,
    errors: CrewErrors,
    draw: np.random.Generator,
) -> Bools:
    """Marks (c, n) whose rod reading is farther off than the check allows."""
    wanted = np.array([row.elevation for row in rows])
    height = ground.elevation(placed.reshape(-1, 2)).reshape(placed.shape[:2])
    read = height + draw.normal(0.0, errors.rod, height.shape)
    return np.asarray(np.abs(read - wanted) > errors.rod_check)


def _out_of_order(row: FieldMark, name: str) -> Exception:
    return input_error(
        f"mark {row.mark} is measured from {name}, which is not set by then",
        "put the marks in an order in which everything measured from stands before",
        file="field.csv",
        row=row.order + 1,
    )
