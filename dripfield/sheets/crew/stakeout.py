"""The stake-out files: points and laterals for instruments and phones."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

import numpy as np

from dripfield.core.table import Column, Table, figures, text
from dripfield.core.units import Unit
from dripfield.core.words import COORDINATE_PLACES, plain
from dripfield.files.csv import write_csv
from dripfield.files.features import Features, MapLine, MapPoint
from dripfield.files.geojson import write_geojson
from dripfield.files.gpx import write_gpx
from dripfield.files.kml import write_kml
from dripfield.files.landxml import write_landxml
from dripfield.sheets.crew.gather import CrewWork
from dripfield.staking.stakes import Stake


def stakeout_points(work: CrewWork) -> list[MapPoint]:
    """The stakes, then the ends of base line and edge lines, then a benchmark with a position.

    Elevations are those set for stakes, the ground's for base-line ends (NaN where not known).
    """
    points = [
        MapPoint(str(s.point), s.easting, s.northing, s.elevation, s.description)
        for s in work.stakes
    ]
    ends = [(end, "base line") for end in (work.flags.base.start, work.flags.base.end)]
    for edge in work.flags.edges.values():
        ends += [(end, "edge line") for end in (edge.start, edge.end)]
    mark = work.settings.benchmark
    if mark is not None and mark.easting is not None and mark.northing is not None:
        points.append(MapPoint(mark.name, mark.easting, mark.northing, mark.elevation, "benchmark"))
        ends = [(end, use) for end, use in ends if end.name != mark.name]
    ground = work.design.surface.elevation(np.array([end.xy for end, _ in ends]).reshape(-1, 2))
    points += [
        MapPoint(end.name, end.easting, end.northing, float(z), use)
        for (end, use), z in zip(ends, ground, strict=True)
    ]
    return points


def stakeout_features(work: CrewWork) -> Features:
    """Every lateral as the line through its stakes, and the stake-out points."""
    unit, about = work.design.site.unit, work.design.site.file.site
    of_lateral: dict[str, list[Stake]] = {}
    for stake in work.stakes:
        of_lateral.setdefault(stake.lateral, []).append(stake)
    lines = tuple(
        MapLine(
            name=row.name,
            xy=np.array([(s.easting, s.northing) for s in of_lateral[row.name]]),
            elevation=of_lateral[row.name][0].elevation,
            properties={
                "panel": row.panel,
                "elevation": round(row.elevation, unit.places + 1),
                "length": round(row.length, unit.places),
                "unit": unit.value,
            },
        )
        for row in work.laterals
    )
    return Features(
        title=work.design.site.name,
        unit=unit,
        crs=about.crs,
        lines=lines,
        points=tuple(stakeout_points(work)),
        date=about.survey_date or "",
    )


def stakeout_table(points: Sequence[MapPoint], unit: Unit, order: str) -> Table:
    """Points as columns in an order of the letters P, N, E, Z and D, as instruments read them."""
    columns: Mapping[str, Column] = {
        "P": text("point"),
        "N": figures("northing", COORDINATE_PLACES),
        "E": figures("easting", COORDINATE_PLACES),
        "Z": figures("elevation", unit.places + 1),
        "D": text("description"),
    }
    values: list[dict[str, str | float]] = [
        {
            "P": plain(one.name),
            "N": one.northing,
            "E": one.easting,
            "Z": one.elevation,
            "D": plain(one.description),
        }
        for one in points
    ]
    return Table(
        [columns[letter] for letter in order],
        [[row[letter] for letter in order] for row in values],
    )


def stakeout_writers(work: CrewWork) -> dict[str, Callable[[Path], None]]:
    """What writes each stake-out file that the site allows, by the file's name.

    The writers for phones raise InputError where the site's coordinate system is not known.
    """
    features = stakeout_features(work)

    def delimited(order: str) -> Callable[[Path], None]:
        table = stakeout_table(features.points, features.unit, order)
        return partial(write_csv, table=table, header=False)

    writers: dict[str, Callable[[Path], None]] = {
        "stakeout_pnezd.csv": delimited("PNEZD"),
        "stakeout_penzd.csv": delimited("PENZD"),
        "laterals.xml": partial(write_landxml, features=features),
    }
    if features.crs:
        writers["stakeout.geojson"] = partial(write_geojson, features=features)
        writers["stakeout.kml"] = partial(write_kml, features=features)
        writers["stakeout.gpx"] = partial(write_gpx, features=features)
    return writers
