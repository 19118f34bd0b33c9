"""Layouts kept from run to run, so that one site is laid out once.

A layout is found again by a hash of all that it depends on: the settings, the bed, the surface, the
program's own source and the libraries that compute for it. So a kept layout is the one that would
be made; where the folder cannot be written nothing is kept.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.metadata
import os
import platform
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from dripfield.core.json_text import to_json
from dripfield.design.layout_file import LayoutRecord, layout_from, record_of
from dripfield.ground.laying import LayingSurface
from dripfield.layout.model import Layout, PanelOption
from dripfield.site.model import Bed, Site

OFF = "DRIPFIELD_KEEP"
"""Environment variable: ``0`` keeps no layouts."""

_MOST = 60  # layouts kept; the oldest go first
_PARTS = ("core", "site", "ground", "layout", "measures", "bed", "design")
_LIBRARIES = ("numpy", "scipy", "shapely")


class _OptionRecord(msgspec.Struct):
    """One number of panels."""

    panels: int
    laterals: int
    tubing: float
    merit: float
    chosen: bool
    shortest: float
    mean: float
    short: float
    layout: LayoutRecord | None


class _KeptRecord(LayoutRecord):
    """A layout with what is said of its making."""

    notes: list[str] = msgspec.field(default_factory=list)
    options: list[_OptionRecord] = msgspec.field(default_factory=list)


def keeping_folder() -> Path | None:
    """The folder for kept layouts, or None when none are to be kept."""
    if os.environ.get(OFF, "").strip() == "0":
        return None
    home = os.environ.get("XDG_CACHE_HOME", "")
    base = Path(home) if home and Path(home).is_absolute() else None
    if base is None:
        try:
            base = Path.home() / ".cache"
        except RuntimeError:
            return None
    return base / "dripfield" / "layouts"


def key_of(site: Site, surface: LayingSurface, method: str, compare: bool) -> str:
    """A hash of all that a layout depends on.

    Parameters
    ----------
    site : Site
    surface : LayingSurface
        What the laterals lie on.
    method : str
    compare : bool
        Every number of panels is shown.

    Returns
    -------
    str
        64 hexadecimal digits (SHA-256, FIPS 180-4).
    """
    digest = hashlib.sha256()
    settings = site.settings
    words = (_program(), site.unit.value, repr(settings), method, compare, surface.smoothing)
    digest.update(repr((words, surface.built, site.file.bed.boundary)).encode())
    for shape in _shapes(site.bed):
        digest.update(shape)
    if settings.accepted is not None:
        with contextlib.suppress(OSError):
            digest.update((site.folder / settings.accepted).read_bytes())
    triangles = surface.surface
    digest.update(np.ascontiguousarray(triangles.vertices).tobytes())
    digest.update(np.ascontiguousarray(triangles.triangles).tobytes())
    digest.update(np.ascontiguousarray(triangles.breaks).tobytes())
    return digest.hexdigest()


def kept(key: str, site: Site, area: Any) -> Layout | None:
    """A kept layout; None where there is none or it cannot be read.

    Parameters
    ----------
    key : str
        From :func:`key_of`.
    site : Site
    area : Polygon or MultiPolygon
        Where a lateral may lie.

    Returns
    -------
    Layout or None
    """
    folder = keeping_folder()
    if folder is None:
        return None
    try:
        data = (folder / f"{key}.json").read_bytes()
        record = msgspec.json.decode(data, type=_KeptRecord)
    except (OSError, msgspec.DecodeError, RecursionError):
        return None
    if record.unit != site.unit.value or record.code != key:
        return None
    layout = layout_from(record, area)
    options = tuple(
        PanelOption(
            panels=one.panels,
            laterals=one.laterals,
            tubing=one.tubing,
            merit=one.merit,
            chosen=one.chosen,
            shortest=one.shortest,
            mean=one.mean,
            short=one.short,
            layout=None if one.layout is None else layout_from(one.layout, area),
        )
        for one in record.options
    )
    return replace(layout, options=options, notes=tuple(record.notes))


def keep(key: str, site: Site, layout: Layout) -> None:
    """Keep a layout; where it cannot be written nothing happens.

    Parameters
    ----------
    key : str
        From :func:`key_of`.
    site : Site
    layout : Layout
    """
    folder = keeping_folder()
    if folder is None:
        return
    unit = site.unit.value
    content = {
        "unit": unit,
        "code": key,
        **record_of(layout),
        "notes": list(layout.notes),
        "options": [_option(one, unit) for one in layout.options],
    }
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, name = tempfile.mkstemp(dir=folder, prefix=".new-")
        with open(handle, "w", encoding="utf-8") as stream:
            stream.write(to_json(content))
        os.replace(name, folder / f"{key}.json")
        _prune(folder)
    except OSError:
        return


def _option(one: PanelOption, unit: str) -> dict[str, Any]:
    layout = None if one.layout is None else {"unit": unit, **record_of(one.layout)}
    return {
        "panels": one.panels,
        "laterals": one.laterals,
        "tubing": one.tubing,
        "merit": one.merit,
        "chosen": one.chosen,
        "shortest": one.shortest,
        "mean": one.mean,
        "short": one.short,
        "layout": layout,
    }


def _prune(folder: Path) -> None:
    """Remove the oldest layouts beyond the most that are kept."""
    files = sorted(folder.glob("*.json"), key=lambda path: path.stat().st_mtime)
    for path in files[:-_MOST]:
        path.unlink(missing_ok=True)


def _shapes(bed: Bed) -> list[bytes]:
    """The bed's geometry as bytes."""
    import shapely

    features = [bed.boundary, *bed.keepouts, *(one.feature for one in bed.setbacks)]
    distances = repr([one.distance for one in bed.setbacks]).encode()
    return [*(bytes(shapely.to_wkb(one)) for one in features), distances]


@cache
def _program() -> str:
    """A hash of the source that lays out, of the libraries and of the machine's kind."""
    digest = hashlib.sha256()
    home = Path(__file__).parents[1]
    for part in _PARTS:
        for path in sorted((home / part).rglob("*.py")):
            digest.update(path.read_bytes())
    versions = [f"{name} {importlib.metadata.version(name)}" for name in _LIBRARIES]
    machine = (platform.python_version(), platform.machine(), platform.processor())
    digest.update(repr((versions, machine)).encode())
    return digest.hexdigest()
