"""The stake-out files: points and laterals for instruments and phones."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

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


def stakeout_points(work: CrewWork) -> list[MapPoint]:
    """The marks by number, then everything that may be measured from.

    Elevations of marks are those that their laterals are set to; of points their own (NaN where not
    known).
    """
    marks = [
        MapPoint(str(s.mark), s.easting, s.northing, s.set_elevation, s.description)
        for s in work.stakes
    ]
    points = [
        MapPoint(p.name, p.easting, p.northing, p.elevation, p.description)
        for p in work.field.points
    ]
    return [*marks, *points]


def stakeout_features(work: CrewWork) -> Features:
    """Every lateral as it is drawn, and the stake-out points."""
    unit, about = work.design.site.unit, work.design.site.file.site
    lines = tuple(
        MapLine(
            name=row.name,
            xy=lateral.xy,
            elevation=lateral.elevation,
            properties={
                "panel": row.panel,
                "elevation": round(row.elevation, unit.places + 1),
                "length": round(row.length, unit.places),
                "unit": unit.value,
            },
        )
        for row, lateral in zip(work.laterals, work.design.layout.laterals, strict=True)
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
    """Points as columns in an order of the letters P, N, E, Z and D, as instruments read them.

    Parameters
    ----------
    points : sequence of MapPoint
    unit : Unit
        The site's.
    order : str
        As ``PNEZD``.

    Returns
    -------
    Table
    """
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
