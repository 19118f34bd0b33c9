"""Everything that the zones of a field leave behind, all of it or nothing."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from dripfield.core.output import staged_output
from dripfield.distribution.system import FieldSystem
from dripfield.distribution.tables import tables
from dripfield.files.csv import write_csv
from dripfield.files.register import Writer, write_outputs
from dripfield.site.reader import input_files

_NETWORKS = "networks/ZONE_STATE.inp"


def write_zones(system: FieldSystem, out: str | Path) -> tuple[Path, ...]:
    """Write tables, networks and drawings of a field's zones: all of them or none.

    Parameters
    ----------
    system : FieldSystem
        From :func:`dripfield.distribution.system.field_system`.
    out : str or Path
        Folder to write into; made when missing, its other files are kept.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    InputError
        The folder may not be written, or a file of the site itself would be replaced.
    """
    out = Path(out)
    with staged_output(out, protect=input_files(system.design.site)) as stage:
        files = write_zone_files(system, stage)
    return tuple(out / path.relative_to(stage) for path in files)


def write_zone_files(system: FieldSystem, folder: Path) -> list[Path]:
    """Write them into a folder that exists.

    Parameters
    ----------
    system : FieldSystem
    folder : Path
        Files of these names are replaced.

    Returns
    -------
    list of Path
        Those of a loading map and of a network only where there is one.
    """
    from dripfield.sheets.kit.relief import show_relief
    from dripfield.sheets.zones.document import pictures
    from dripfield.sheets.zones.zones_dxf import write_zones_dxf

    made = tables(system)
    relief = show_relief(system.design.ground, system.design.surface.surface)
    writers: dict[str, Writer] = {
        **{name: partial(write_csv, table=table) for name, table in made.items()},
        **pictures(system, made, relief),
        "zones.dxf": partial(write_zones_dxf, system, made),
    }
    networks = system.simulation.networks if system.simulation is not None else {}
    if networks:
        writers[_NETWORKS] = partial(_write_networks, networks)
    files = list(write_outputs("zones", folder, writers))
    at = files.index(folder / _NETWORKS) if networks else len(files)
    return [*files[:at], *(folder / "networks" / name for name in networks), *files[at + 1 :]]


def _write_networks(networks: dict[str, str], path: Path) -> None:
    path.parent.mkdir()
    for name, text in networks.items():
        (path.parent / name).write_text(text, encoding="ascii", newline="\n")
