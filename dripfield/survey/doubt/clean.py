"""One shot a place: duplicates averaged when they agree, refused when they do not.

Two shots closer in plan than :func:`plan_tolerance` are the same place: a rod is not set twice any
nearer than that. Their elevations are averaged when they agree within :func:`elevation_tolerance`;
both tolerances are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dripfield.core.arrays import Floats, Ints
from dripfield.core.errors import InputError, input_error
from dripfield.core.units import Unit
from dripfield.survey.shots import Survey

_NAMED = 6  # shots of one place named in a note
_MOST_PAIRS = 8  # pairs of near shots for each shot, up to which all pairs are listed


def plan_tolerance(unit: Unit) -> float:
    """Plan distance within which two shots are one place [unit]: 0.05 ft or 0.015 m."""
    return unit.default(0.05, 0.015)


def elevation_tolerance(unit: Unit) -> float:
    """Elevation difference within which shots of one place agree [unit]: 0.10 ft or 0.03 m."""
    return unit.default(0.10, 0.03)


def clean(survey: Survey, unit: Unit) -> Survey:
    """Average duplicate and near-duplicate shots.

    Parameters
    ----------
    survey : Survey
        As read [unit].
    unit : Unit
        The site's unit.

    Returns
    -------
    Survey
        Distinct shots in the order read; an averaged one carries the name, description and row of
        its first member, and a note says so. Faces are renumbered.

    Raises
    ------
    InputError
        Shots of one place differ in elevation by more than the tolerance; names both.
    """
    group = same_place(survey.xyz[:, :2], plan_tolerance(unit))
    if len(group) == 0 or group.max() == len(group) - 1:
        return survey
    order = np.argsort(group, kind="stable")
    first = order[np.searchsorted(group[order], np.arange(group.max() + 1))]
    notes = []
    for members in shared_groups(group):
        z = survey.xyz[members, 2]
        if np.ptp(z) > elevation_tolerance(unit) + 1e-9:
            raise _disagreement(survey, members, unit)
        names = _some([survey.names[i] for i in members[: _NAMED + 1]], len(members))
        rows = _some([str(survey.rows[i]) for i in members[: _NAMED + 1]], len(members))
        notes.append(
            f"points {names} (rows {rows}) are one place within {plan_tolerance(unit):g} "
            f"{unit.short} and were averaged; elevations differ by {np.ptp(z):.{unit.places}f}"
        )
    return replace(
        survey,
        xyz=group_means(survey.xyz, group),
        names=tuple(survey.names[i] for i in first),
        descriptions=tuple(survey.descriptions[i] for i in first),
        rows=survey.rows[first],
        faces=None if survey.faces is None else group[survey.faces],
        notes=survey.notes + tuple(notes),
    )


def _some(names: list[str], count: int) -> str:
    """The first names of a list, and how many more there are."""
    if count <= _NAMED:
        return ", ".join(names)
    return f"{', '.join(names[:_NAMED])} and {count - _NAMED:,} more"


def same_place(xy: Floats, tolerance: float) -> Ints:
    """Group plan points (n, 2) that lie within the tolerance of the first of their group.

    Returns
    -------
    (n,) int array
        Group of each point, numbered in the order of first appearance. No chain of near points
        grows beyond the tolerance from its first one. Memory grows with n, however many lie at one
        place.
    """
    from scipy.spatial import cKDTree

    n = len(xy)
    leader = np.arange(n)
    if n:
        near, reach = xy - xy.mean(axis=0), tolerance + 1e-9
        tree = cKDTree(near, balanced_tree=False)
        if tree.count_neighbors(tree, reach) <= _MOST_PAIRS * n:
            pairs = tree.query_pairs(reach, output_type="ndarray")
            pairs = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
            for i, j in pairs.tolist():
                if leader[i] == i and leader[j] == j:
                    leader[j] = i
        else:  # crowds: one look around each leader, and no list of pairs
            free = np.ones(n, dtype=bool)
            for i in np.flatnonzero(tree.query(near, k=2)[0][:, 1] <= reach).tolist():
                if free[i]:
                    around = np.array(tree.query_ball_point(near[i], reach))
                    own = around[free[around]]
                    free[own] = False
                    leader[own] = i
    is_leader = leader == np.arange(n)
    number = np.cumsum(is_leader) - 1
    return number[leader].astype(np.int64)


def shared_groups(group: Ints) -> list[Ints]:
    """The members of each group that has more than one."""
    order = np.argsort(group, kind="stable")
    count = np.bincount(group)
    stop = np.cumsum(count)
    shared = np.flatnonzero(count > 1)
    return [order[stop[i] - count[i] : stop[i]] for i in shared.tolist()]


def group_means(values: Floats, group: Ints) -> Floats:
    """Mean of the rows of values (n, k) in each group; a group of one keeps its row exactly."""
    count = np.bincount(group)
    base = np.empty((len(count), values.shape[1]))
    base[group[::-1]] = values[::-1]  # the first member: large coordinates keep their digits
    rest = values - base[group]
    sums = np.column_stack([np.bincount(group, weights=column) for column in rest.T])
    return base + sums / count[:, None]


def _disagreement(survey: Survey, members: Ints, unit: Unit) -> InputError:
    z = survey.xyz[members, 2]
    low, high = sorted((members[z.argmin()], members[z.argmax()]))
    apart = float(np.hypot(*(survey.xyz[high, :2] - survey.xyz[low, :2])))
    places = unit.places
    return input_error(
        f"point {survey.names[high]} lies {apart:.{places}f} {unit.short} from point "
        f"{survey.names[low]} (row {survey.rows[low]}) but its elevation is "
        f"{survey.xyz[high, 2]:.{places}f} against {survey.xyz[low, 2]:.{places}f}",
        f"delete or exclude the wrong one (shots within {plan_tolerance(unit):g} {unit.short} are "
        f"averaged only when they agree within {elevation_tolerance(unit):g} {unit.short})",
        file=survey.source,
        row=int(survey.rows[high]),
    )
