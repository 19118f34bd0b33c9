"""Reading a site folder: settings and bed, with every default filled in."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec
from shapely.geometry.base import BaseGeometry

from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.site.boundary import read_boundary
from dripfield.site.checks import check_site
from dripfield.site.model import Bed, LayoutSettings, Setback, Site
from dripfield.site.rings import read_line, read_points, read_ring
from dripfield.site.schema.key import setting
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.site import SiteFile
from dripfield.site.settings import read_settings

SITE_FILE = "site.toml"
_SHAPES: dict[str, Callable[[Path, Unit, str], BaseGeometry]] = {
    "ring": read_ring,
    "line": read_line,
    "point": read_points,
}


def read_site(folder: str | Path) -> Site:
    """Read a site folder and check that its parts belong together.

    Parameters
    ----------
    folder : str or Path
        The folder that holds ``site.toml``.

    Returns
    -------
    Site
        Geometry in (easting, northing) [site unit].

    Raises
    ------
    InputError
        One line naming the file and the row, key or field, and how to mend it.

    Examples
    --------
    >>> site = read_site("sample_sites/meadow")
    >>> site.name, site.unit.short, site.settings.spacing
    ('Lower Meadow', 'ft', 2.0)
    """
    folder = Path(folder)
    if not folder.is_dir():
        found = "this is a file" if folder.exists() else "there is no such folder"
        raise input_error(found, f"give the folder that holds {SITE_FILE}", file=folder)
    if not (folder / SITE_FILE).exists():
        raise input_error(
            f"there is no {SITE_FILE} in this folder",
            'write one, or start with "dripfield new"',
            file=folder.resolve(),
        )
    file = read_settings(folder / SITE_FILE)
    unit = Unit(file.site.units)
    bed, notes = _read_bed(folder, file, unit)
    site = Site(folder, file, unit, layout_settings(file.layout, unit), bed, notes)
    check_site(site)
    return site


def input_files(site: Site) -> list[Path]:
    """Every file of the site folder that the settings name, ``site.toml`` first."""

    def texts(value: object) -> Iterator[str]:
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict | list):
            for item in value.values() if isinstance(value, dict) else value:
                yield from texts(item)

    named = dict.fromkeys(texts(msgspec.to_builtins(site.file)))
    files = (site.folder / name for name in named if "\0" not in name and len(name) < 256)
    return [site.folder / SITE_FILE, *(path for path in files if path.is_file())]


def inside(folder: Path, name: str, field: str) -> Path:
    """The file called ``name`` in a site folder; refuses a path that leaves it, links followed.

    Parameters
    ----------
    folder : Path
        The site folder.
    name : str
        As the site file gives it.
    field : str
        The key that gives it.

    Returns
    -------
    Path
        Under ``folder``, links followed.

    Raises
    ------
    InputError
        Naming the key ``field`` of ``site.toml``.
    """
    home = folder.resolve()
    try:
        path = (home / name).resolve()
        if path == home:
            raise ValueError(name)
        path.exists()  # fails on a name that the system cannot take
    except (OSError, RuntimeError, ValueError):  # also a loop of links, a zero byte in the name
        raise input_error(
            f"{name!r} is not a file name",
            "name a file in the site folder",
            file=SITE_FILE,
            field=field,
        ) from None
    if not path.is_relative_to(home):
        raise input_error(
            f"{name!r} leaves the site folder",
            "copy the file into the site folder and name it there",
            file=SITE_FILE,
            field=field,
        )
    return folder / path.relative_to(home)


def layout_settings(table: LayoutTable, unit: Unit) -> LayoutSettings:
    """Fill in the defaults that depend on the unit or on the spacing."""
    clearance = table.edge_clearance
    return LayoutSettings(
        spacing=table.spacing,
        spacing_measured=table.spacing_measured,
        edge_clearance=table.spacing / 2.0 if clearance is None else clearance,
        method=table.method,
        level_tolerance=setting(table, "level_tolerance", unit),
        spacing_tolerance=table.spacing_tolerance,
        min_length=setting(table, "min_length", unit),
        max_length=table.max_length,
        bearing=table.bearing,
        bend_radius=setting(table, "bend_radius", unit),
        smoothing=setting(table, "smoothing", unit),
        panels=table.panels,
        max_panels=table.max_panels,
        panel_gain=table.panel_gain,
        stake_interval=setting(table, "stake_interval", unit),
        contour_interval=table.contour_interval,
        coverage_multiple=table.coverage_multiple,
        reserve=table.reserve,
        connection_worth=setting(table, "connection_worth", unit),
        least_mean_length=table.least_mean_length,
        seams=tuple((one.start[::-1], one.end[::-1]) for one in table.seams),
        panel_methods=tuple(sorted(table.panel_methods.items())),
        accepted=table.accepted,
        locked=tuple(table.locked),
        dropped=tuple(table.dropped),
    )


def _read_bed(folder: Path, file: SiteFile, unit: Unit) -> tuple[Bed, tuple[str, ...]]:
    """The bed, and what was taken for granted of its boundary."""
    decimal = file.survey.decimal
    table = file.bed
    boundary, notes = read_boundary(
        inside(folder, table.boundary, "[bed] boundary"),
        unit,
        decimal=decimal,
        layer=table.boundary_layer,
        crs=file.site.crs,
    )
    bed = Bed(
        boundary=boundary,
        keepouts=tuple(
            read_ring(inside(folder, one.points, f"[bed] keepouts {number}"), unit, decimal)
            for number, one in enumerate(table.named_keepouts, 1)
        ),
        keepout_names=tuple(one.shown for one in table.named_keepouts),
        setbacks=tuple(
            Setback(
                name=setback.name,
                feature=_SHAPES[setback.shape](
                    inside(folder, setback.points, f"[[bed.setbacks]] {number} points"),
                    unit,
                    decimal,
                ),
                distance=setback.distance,
                source=setback.source,
            )
            for number, setback in enumerate(table.setbacks, 1)
        ),
    )
    return bed, notes
