"""What the phone page's script works with: laterals in the order of work, each with its marks."""

from __future__ import annotations

from typing import Any

import numpy as np

from dripfield.core.arrays import Floats
from dripfield.crew.errors import CrewErrors
from dripfield.design.model import Design
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.phone_plan import fall_at, plan_frame
from dripfield.sheets.crew.phone_words import LANGUAGES, phrases
from dripfield.staking.model import FieldMark, FieldPlan
from dripfield.staking.tube import Tube

_MISSED = {"L": "level", "S": "spacing"}
_ABREAST = 0.02  # spacings: a station so near to a mark is at the mark


def page_data(work: CrewWork, plan: FieldPlan) -> dict[str, Any]:
    """All that the script reads, ready for JSON.

    Parameters
    ----------
    work : CrewWork
    plan : FieldPlan
        The marks and how each is set.

    Returns
    -------
    dict
        Lengths in the site's unit; ``laterals`` in the order of work, each with ``marks`` in that
        order; ``check`` is the band of a rod reading, ``close`` what a benchmark closes to.
    """
    design = work.design
    unit, benchmark = design.site.unit, work.settings.benchmark
    check = CrewErrors.of(unit).rod_check
    of_lateral = plan.of_lateral()
    rows = {row.name: row for row in work.laterals}
    stations = _stations(of_lateral)
    frame = plan_frame(design, plan)
    laterals = []
    for name, marks in of_lateral.items():
        row = rows[name]
        above = dict.fromkeys(mark.above for mark in marks if mark.above)
        laterals.append(
            {
                "name": name,
                "panel": marks[0].panel,
                "guide": name in plan.guides,
                "above": list(above),
                "elevation": round(row.elevation, unit.places + 1),
                "length": round(row.length, unit.places),
                "misses": [_MISSED[letter] for letter in row.mark.split()],
                "fall": _fall(design, plan, name),
                "marks": [
                    {**_mark(mark, stations, design, of_lateral), "x": x, "y": y}
                    for mark, (x, y) in zip(marks, _places(marks, frame.place), strict=True)
                ],
            }
        )
    return {
        "site": design.site.name,
        "unit": unit.short,
        "metric": unit.is_metric,
        "places": unit.places,
        "spacing": design.site.settings.spacing,
        "rod": work.settings.rod_length,
        "check": check,
        "close": check / 4.0,
        "mark": {
            "name": None if benchmark is None else benchmark.name,
            "elevation": None if benchmark is None else benchmark.elevation,
        },
        "languages": list(LANGUAGES),
        "words": phrases(),
        "laterals": laterals,
    }


def _places(marks: tuple[FieldMark, ...], place: Any) -> list[tuple[float, float]]:
    xy = place(np.array([(mark.easting, mark.northing) for mark in marks]))
    return [(round(float(x), 3), round(float(y), 3)) for x, y in xy]


def _stations(of_lateral: dict[str, tuple[FieldMark, ...]]) -> dict[str, Floats]:
    """Distances of a lateral's marks along the tube through them, by lateral."""
    above = {mark.above for marks in of_lateral.values() for mark in marks if mark.above}
    return {
        name: Tube(np.array([(m.easting, m.northing) for m in of_lateral[name]])).mark_stations
        for name in above
    }


def _mark(
    mark: FieldMark,
    stations: dict[str, Floats],
    design: Design,
    of_lateral: dict[str, tuple[FieldMark, ...]],
) -> dict[str, Any]:
    unit = design.site.unit
    found: dict[str, Any] = {
        "number": mark.mark,
        "how": mark.method,
        "easting": mark.easting,
        "northing": mark.northing,
        "elevation": round(mark.elevation, unit.places + 1),
    }
    if mark.method == "tape":
        found["tapes"] = [
            [mark.point_1, round(mark.distance_1, unit.places)],
            [mark.point_2, round(mark.distance_2, unit.places)],
        ]
    if mark.method == "gauge":
        numbers = [one.mark for one in of_lateral[mark.above]]
        found |= {
            "above": mark.above,
            "station": mark.above_station,
            "gap": mark.gap,
            "side": mark.side,
            "first": numbers[0],
            "between": _between(mark.above_station, stations[mark.above], numbers, design),
        }
    return found


def _between(station: float, along: Floats, numbers: list[int], design: Design) -> list[int]:
    """The mark of the line beside it that a station is at, or the two that it is between."""
    nearest = int(np.argmin(np.abs(along - station)))
    if abs(along[nearest] - station) <= _ABREAST * design.site.settings.spacing:
        return [numbers[nearest]]
    after = int(np.clip(np.searchsorted(along, station), 1, len(along) - 1))
    return [numbers[after - 1], numbers[after]]


def _fall(design: Design, plan: FieldPlan, name: str) -> list[float] | None:
    """Where the plan's arrow of a lateral stands, and its turn from north [degrees]."""
    lateral = next(one for one in design.layout.laterals if one.name == name)
    middle = lateral.xy[len(lateral.xy) // 2]
    turn = fall_at(design, middle)
    if turn is None:
        return None
    ((x, y),) = plan_frame(design, plan).place(middle[None])
    return [round(float(x), 3), round(float(y), 3), round(turn, 1)]
