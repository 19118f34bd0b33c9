"""dripfield: from a surveyed bed to a drip dispersal field that can be staked and checked.

The job in five calls::

    import dripfield

    site = dripfield.read_site("sample_sites/nose")
    surface = dripfield.build_surface(site)
    layout = dripfield.lay_out(site, surface)
    measured = dripfield.measure(site, layout, surface)
    dripfield.write_layout(site, surface, layout, measured, "out")

Nothing heavy is imported until one of these names is used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from dripfield.core.errors import DripfieldError, InputError
    from dripfield.core.units import Unit
    from dripfield.ground.tin import Surface
    from dripfield.layout.model import Lateral, Layout
    from dripfield.measures.field import Measured
    from dripfield.measures.laterals import LateralMeasure
    from dripfield.run import build_surface, lay_out, measure, read_site
    from dripfield.site.model import Bed, LayoutRules, Site
    from dripfield.survey.shots import Survey
    from dripfield.write import write_layout

_HOMES = {
    "Bed": "dripfield.site.model",
    "DripfieldError": "dripfield.core.errors",
    "InputError": "dripfield.core.errors",
    "Lateral": "dripfield.layout.model",
    "LateralMeasure": "dripfield.measures.laterals",
    "Layout": "dripfield.layout.model",
    "LayoutRules": "dripfield.site.model",
    "Measured": "dripfield.measures.field",
    "Site": "dripfield.site.model",
    "Surface": "dripfield.ground.tin",
    "Survey": "dripfield.survey.shots",
    "Unit": "dripfield.core.units",
    "build_surface": "dripfield.run",
    "lay_out": "dripfield.run",
    "measure": "dripfield.run",
    "read_site": "dripfield.run",
    "write_layout": "dripfield.write",
}

__all__ = [
    "Bed",
    "DripfieldError",
    "InputError",
    "Lateral",
    "LateralMeasure",
    "Layout",
    "LayoutRules",
    "Measured",
    "Site",
    "Surface",
    "Survey",
    "Unit",
    "build_surface",
    "lay_out",
    "measure",
    "read_site",
    "write_layout",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used (PEP 562)."""
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'dripfield' has no attribute {name!r}")
    value = getattr(importlib.import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
