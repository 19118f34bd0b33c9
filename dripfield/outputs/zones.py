"""Everything that the zones of a field leave behind, all of it or nothing."""

from __future__ import annotations

import csv
from pathlib import Path

from dripfield.core.output import staged_output
from dripfield.distribution.system import FieldSystem
from dripfield.distribution.tables import Rows, tables
from dripfield.site.reader import input_files


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
    from dripfield.sheets.zones.document import write_pages
    from dripfield.sheets.zones.zones_dxf import write_zones_dxf

    made = tables(system)
    files = []
    for name, table in made.items():
        files.append(folder / name)
        _write_csv(files[-1], table)
    if system.simulation is not None and system.simulation.networks:
        (folder / "networks").mkdir()
        for name, text in system.simulation.networks.items():
            files.append(folder / "networks" / name)
            files[-1].write_text(text, encoding="ascii", newline="\n")
    relief = show_relief(system.design.ground, system.design.surface.surface)
    files += write_pages(system, made, relief, folder)
    files.append(folder / "zones.dxf")
    write_zones_dxf(system, made, files[-1])
    return files


def _write_csv(path: Path, table: Rows) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(table.columns)
        writer.writerows(table.rows)
