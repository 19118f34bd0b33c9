"""Which writing belongs to which run of a drawing: each name to one run, each run one name."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString

from dripfield.core.arrays import Floats
from dripfield.core.errors import input_error
from dripfield.core.lengths import TypedLength, into_unit, system_of
from dripfield.core.limits import check_count
from dripfield.core.units import Unit
from dripfield.review.model.plan import PlanOptions, PlanRun, name_key
from dripfield.review.read.drawing import Text
from dripfield.review.read.labels import Label, read_label

LABEL_REACH = 3.0
"""A run's name stands within so many text heights of it."""
_OWN = -1e3  # a name of its own outweighs every distance, but leaves no other run nameless


def labels_beside(
    lines: Sequence[Floats],
    texts: Sequence[Text],
    path: Path,
    own: Sequence[str | None] = (),
) -> tuple[list[Label], list[str]]:
    """What the writing says of each run.

    Names are given to runs one to one, so that they stand as near as can be in all: a run that was
    drawn beside the name of another does not take it. What else a name's line of writing says goes
    with the name; writing without a name belongs to the run nearest to it.

    Parameters
    ----------
    lines : sequence of (k, 2) float arrays
        The runs.
    texts : sequence of Text
    path : Path
        For the message.
    own : sequence of str or None
        The name that each run's own data hold, where the file keeps such: it settles which of the
        names written is meant, and stands where none is written.

    Returns
    -------
    labels : list of Label
        One for each run, empty where nothing stands beside it.
    notes : list of str
        Names that stand beside several runs.

    Raises
    ------
    InputError
        Far more labels than runs could have.
    """
    own = list(own) or [None for _ in lines]
    result = [Label() for _ in lines]
    read = [(text, read_label(text.text)) for text in texts]
    read = [(text, label) for text, label in read if label != Label()]
    if not read:
        return _with_own(result, own), []
    shapes = np.array([LineString(line) for line in lines])
    places = shapely.points(np.array([text.xy for text, _ in read]))
    height = np.array([max(text.height, 1e-9) for text, _ in read])
    (seen, _), gap = shapely.STRtree(shapes).query_nearest(
        places, return_distance=True, all_matches=False
    )
    beside = seen[gap <= LABEL_REACH * height[seen]]
    check_count("labels", len(beside), path, "delete the writing that is no label")
    if not len(beside):
        return _with_own(result, own), []
    read, places, height = [read[i] for i in beside], places[beside], height[beside]
    far = shapely.distance(places[:, None], shapes[None, :]) / height[:, None]
    names: dict[str, list[int]] = defaultdict(list)
    for number, (_, label) in enumerate(read):
        if label.name is not None:
            names[name_key(label.name)].append(number)
    keys = _own_keys(own)
    for run, key in _one_to_one(far, names, keys).items():
        for number in sorted(names[key], key=lambda number: far[number, run]):
            if far[number, run] <= LABEL_REACH or keys[run] == key:
                result[run] = _merged(result[run], read[number][1])
    nearest = far.argmin(axis=1)
    for number in np.argsort(far.min(axis=1), kind="stable"):
        text_run, label = int(nearest[number]), read[number][1]
        if label.name is None and far[number, text_run] <= LABEL_REACH:
            result[text_run] = _merged(result[text_run], label)
    result = _with_own(result, own)
    return result, _shared(far, names, read, result)


def _with_own(labels: list[Label], own: Sequence[str | None]) -> list[Label]:
    """Labels with a run's own name where none is written and no other run has it."""
    taken = Counter(name_key(name) for name in own if name)
    taken.update(name_key(label.name) for label in labels if label.name)
    return [
        replace(label, name=name)
        if not label.name and name and taken[name_key(name)] == 1
        else label
        for label, name in zip(labels, own, strict=True)
    ]


def _merged(label: Label, more: Label) -> Label:
    return Label(
        name=label.name or more.name,
        elevation=label.elevation or more.elevation,
        length=label.length or more.length,
    )


def _own_keys(own: Sequence[str | None]) -> list[str | None]:
    """The key of each run's own name, where no other run has the same."""
    keys = [name_key(name) if name else None for name in own]
    count = Counter(keys)
    return [key if count[key] == 1 else None for key in keys]


def _one_to_one(
    far: Floats, names: dict[str, list[int]], own: Sequence[str | None]
) -> dict[int, str]:
    """The name of each run that has one: its own wherever it is written, else the nearest."""
    from scipy.optimize import linear_sum_assignment

    keys = list(names)
    if not keys:
        return {}
    near = np.array([far[names[key]].min(axis=0) for key in keys])
    # as many names as can be stay within reach; only then does nearness count
    allowed = near <= LABEL_REACH
    cost = np.where(allowed, near, 1e3)
    for run, key in enumerate(own):
        if key in names:
            allowed[keys.index(key), run] = True
            cost[keys.index(key), run] = _OWN
    rows, columns = linear_sum_assignment(cost)
    return {int(j): keys[int(i)] for i, j in zip(rows, columns, strict=True) if allowed[i, j]}


def _shared(
    far: Floats,
    names: dict[str, list[int]],
    read: Sequence[tuple[Text, Label]],
    result: Sequence[Label],
) -> list[str]:
    """Notes on names that are written nearest to a run that did not get them."""
    said = []
    for numbers in names.values():
        runs = {int(far[n].argmin()) for n in numbers if far[n].min() <= LABEL_REACH}
        name = read[numbers[0]][1].name
        without = [run for run in runs if result[run].name is None]
        if len(runs) > 1 and without:
            said.append(
                f"the name {name!r} stands beside {len(runs)} runs; the nearest has it, the other "
                "is numbered"
            )
    return said


class LabelUnits:
    """Turns what the writing says into the site's unit, or refuses another one.

    Parameters
    ----------
    path : Path
        The plan's file, for messages.
    unit : Unit
        The site's.
    options : PlanOptions
    """

    def __init__(self, path: Path, unit: Unit, options: PlanOptions) -> None:
        self.path, self.unit, self.options = path, unit, options

    def convert(self, typed: TypedLength | None, run: str) -> float | None:
        """The length in the site's unit; one without a unit as it is written.

        What is written on a sheet is in a unit of its own, whatever the lines are drawn in.

        Raises
        ------
        InputError
            It is in metres where the site is in feet, or the other way about, and nothing was said
            of the plan's unit.
        """
        if typed is None:
            return None
        if typed.system is None:
            return typed.value
        site = system_of(self.unit.value)
        if typed.system != site and self.options.units is None:
            raise input_error(
                f"the writing beside run {run!r} is in {typed.system} and the site in {site}",
                "give the plan's unit with --plan-units",
                file=self.path,
            )
        return into_unit(typed.value, typed.system, self.unit)


def written_runs(
    lines: Sequence[Floats],
    labels: Sequence[Label],
    heights: Sequence[float | None],
    units: LabelUnits,
) -> tuple[PlanRun, ...]:
    """The runs of a drawing with what is written beside them.

    Parameters
    ----------
    lines : sequence of (k, 2) float arrays
    labels : sequence of Label
        One for each line.
    heights : sequence of float or None
        Each line's own height, its elevation where nothing is written.
    units : LabelUnits

    Returns
    -------
    tuple of PlanRun
    """
    runs = []
    for number, (line, label, height) in enumerate(zip(lines, labels, heights, strict=True), 1):
        name = label.name or f"run {number}"
        elevation = units.convert(label.elevation, name)
        written = (("elevation", label.elevation), ("length", label.length))
        bare = [word for word, typed in written if typed is not None and typed.system is None]
        if elevation is None and height is not None:
            elevation = height
            bare.append("elevation")
        run = PlanRun(name, line, elevation=elevation, named=label.name is not None)
        runs.append(replace(run, length=units.convert(label.length, name), bare=tuple(bare)))
    return tuple(runs)
