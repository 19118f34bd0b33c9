"""Sites in memory on a nose that one panel cannot lay level and even at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from shapely import box

from dripfield.core.units import Unit
from dripfield.ground.laying import LayingSurface
from dripfield.ground.triangles.tin import Surface
from dripfield.site.model import Bed, Site
from dripfield.site.reader import layout_settings
from dripfield.site.schema.bed import BedTable
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.site import SiteFile, SiteTable
from dripfield.site.schema.survey import SurveyTable

BED = box(0.0, 0.0, 70.0, 40.0)


def site_of(folder: Path, bed: Bed | None = None, **layout) -> Site:
    layout.setdefault("spacing", 2.0)
    file = SiteFile(
        site=SiteTable(name="Test", units="ft"),
        survey=SurveyTable(points="survey.csv"),
        bed=BedTable(boundary="bed.csv"),
        layout=LayoutTable(**layout),
    )
    settings = layout_settings(file.layout, Unit.FOOT)
    return Site(folder, file, Unit.FOOT, settings, bed or Bed(BED))


def surface_of() -> LayingSurface:
    """A nose that one panel cannot lay level and even at once."""
    x, y = np.meshgrid(np.arange(-12, 83, 6.0), np.arange(-12, 53, 6.0))
    z = 100.0 + 0.10 * y - 0.0016 * (x - 35.0) ** 2
    return LayingSurface(Surface.from_points(np.column_stack((x.ravel(), y.ravel(), z.ravel()))))


SURFACE = surface_of()
