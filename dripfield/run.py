"""The main job's steps up to the measures, each a public function of the package.

The last one, writing, is in :mod:`dripfield.write`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from dripfield.core.threads import one_thread
from dripfield.site.reader import read_site

if TYPE_CHECKING:
    from dripfield.ground.tin import Surface
    from dripfield.layout.model import Layout
    from dripfield.measures.field import Measured
    from dripfield.site.model import Site

__all__ = ["build_surface", "lay_out", "measure", "read_site"]


def build_surface(site: Site) -> Surface:
    """The surface that laterals are laid on.

    Parameters
    ----------
    site : Site

    Returns
    -------
    Surface
        The surveyed ground; the top of sand as designed where ``[bed.section]`` asks for one.

    Raises
    ------
    InputError
        Too few shots, all on one line, shots or breaklines that contradict each other; a section
        that cannot be built there.
    """
    from dripfield.ground import build

    ground = build.build_surface(site)
    if site.file.bed.section is None:
        return ground
    from dripfield.bed.design import bed_surface

    return bed_surface(site, ground)


def lay_out(
    site: Site, surface: Surface, method: str | None = None, compare: bool = False
) -> Layout:
    """Lay out a site's bed.

    Parameters
    ----------
    site : Site
    surface : Surface
        From :func:`build_surface`.
    method : str, optional
        ``balanced``, ``contour``, ``offset`` or ``straight``, in place of the site's own.
    compare : bool
        For ``balanced``, show in ``options`` every number of panels allowed, though not laid.

    Returns
    -------
    Layout

    Raises
    ------
    InputError
        The ground has no contour direction, or the bed has no room on surveyed ground.
    """
    from dripfield.choice import choose

    with one_thread():
        return choose.lay_out(site, surface, method, compare)


def measure(site: Site, layout: Layout, surface: Surface) -> Measured:
    """Measure a layout's finished lines against each other and against the ground.

    The ground is the bare triangles of the survey; how level the lines are on the smoothed ground
    that they follow is measured beside it.
    """
    from dripfield.ground.smoothing.smooth import smooth_ground
    from dripfield.measures import measure_layout

    most = site.rules.smoothing
    smoothed = smooth_ground(surface, most) if most else None
    return measure_layout(layout, surface, site.rules, site.bed, smoothed=smoothed)
