"""dripfield: from a surveyed bed to a drip dispersal field that can be staked and checked.

The job in three calls::

    import dripfield

    site = dripfield.read_site("sample_sites/nose")
    design = dripfield.lay_out(site)
    dripfield.write(design, "out")

Nothing heavy is imported until one of these names is used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from dripfield.core.version import __version__ as __version__

if TYPE_CHECKING:
    from dripfield.core.errors import DripfieldError, InputError
    from dripfield.core.units import Unit
    from dripfield.design.lay_out import lay_out
    from dripfield.design.model import Design
    from dripfield.ground.ground import Ground, build_ground
    from dripfield.ground.laying import LayingSurface
    from dripfield.layout.model import Lateral, Layout
    from dripfield.measures.field import Measured
    from dripfield.measures.laterals import LateralMeasure
    from dripfield.outputs.layout import write
    from dripfield.site.model import Bed, LayoutSettings, Site
    from dripfield.site.reader import read_site
    from dripfield.survey.shots import Survey

_HOMES = {
    "Bed": "dripfield.site.model",
    "Design": "dripfield.design.model",
    "DripfieldError": "dripfield.core.errors",
    "Ground": "dripfield.ground.ground",
    "InputError": "dripfield.core.errors",
    "Lateral": "dripfield.layout.model",
    "LateralMeasure": "dripfield.measures.laterals",
    "LayingSurface": "dripfield.ground.laying",
    "Layout": "dripfield.layout.model",
    "LayoutSettings": "dripfield.site.model",
    "Measured": "dripfield.measures.field",
    "Site": "dripfield.site.model",
    "Survey": "dripfield.survey.shots",
    "Unit": "dripfield.core.units",
    "build_ground": "dripfield.ground.ground",
    "lay_out": "dripfield.design.lay_out",
    "read_site": "dripfield.site.reader",
    "write": "dripfield.outputs.layout",
}

__all__ = [
    "Bed",
    "Design",
    "DripfieldError",
    "Ground",
    "InputError",
    "Lateral",
    "LateralMeasure",
    "LayingSurface",
    "Layout",
    "LayoutSettings",
    "Measured",
    "Site",
    "Survey",
    "Unit",
    "build_ground",
    "lay_out",
    "read_site",
    "write",
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
