"""The lines to the field and back, read from the files that a site names."""

from __future__ import annotations

from dataclasses import dataclass

from dripfield.site.model import Site
from dripfield.site.reader import SITE_FILE, inside
from dripfield.site.rings import read_route
from dripfield.site.schema.pump import SupplyTable
from dripfield.zones.pipes import pipe_size
from dripfield.zones.plan import Route


@dataclass(frozen=True)
class Lines:
    """The supply from pump to field, and the return from field to tank.

    Attributes
    ----------
    supply, return_ : Route or None
        None where the site gives no route, or no size of its pipe.
    missing : tuple of str
        Keys that are lacking.
    """

    supply: Route | None
    return_: Route | None
    missing: tuple[str, ...]


def read_lines(site: Site) -> Lines:
    """Read the routes of a site.

    Returns
    -------
    Lines

    Raises
    ------
    InputError
        Naming the file and row: one that cannot be read, or that is no line.
    """
    lacks: list[str] = []
    supply = _route(site, "supply", site.file.supply, lacks)
    return_ = _route(site, "return", site.file.return_, lacks)
    return Lines(supply, return_, tuple(lacks))


def _route(site: Site, name: str, table: SupplyTable | None, lacks: list[str]) -> Route | None:
    if table is None or table.route is None:
        lacks.append(f"[{name}] route")
        return None
    path = inside(site.folder, table.route, f"[{name}] route")
    xyz = read_route(path, site.unit, site.file.survey.decimal)
    if table.pipe is None and table.bore is None:
        lacks.append(f"[{name}] pipe")
        return None
    size = pipe_size(site.unit, table.pipe, table.bore, field=f"{SITE_FILE}, [{name}] pipe")
    return Route(xyz, size, table.route)
