"""Laying out a site: from its ground to a design."""

from __future__ import annotations

from dripfield.bed.design import laying_surface
from dripfield.core.threads import one_thread
from dripfield.design.choose import choose_layout
from dripfield.design.model import Design, design_of
from dripfield.design.reserve import designed_by
from dripfield.ground.ground import Ground, build_ground
from dripfield.site.model import Site


def lay_out(
    site: Site, ground: Ground | None = None, method: str | None = None, *, compare: bool = False
) -> Design:
    """Lay out a site's bed and measure what was laid out.

    Parameters
    ----------
    site : Site
        From :func:`dripfield.site.reader.read_site`.
    ground : Ground, optional
        From :func:`dripfield.ground.ground.build_ground`; built here unless given. The site may
        have other settings than the one that it was built for.
    method : str, optional
        ``balanced``, ``contour``, ``offset`` or ``straight``, in place of the site's own.
    compare : bool
        For ``balanced``, show in the layout's ``options`` every number of panels allowed, though
        not laid.

    Returns
    -------
    Design
        To the site's tolerances less its reserve, judged by the whole ones. Measured on the bare
        triangles of what it lies on; how level the lines are on the smoothed
        surface that they follow is measured beside it.

    Raises
    ------
    InputError
        As :func:`dripfield.ground.ground.build_ground`; a bed section that cannot be built there;
        the ground has no contour direction, or the bed has no room on surveyed ground.
    """
    ground = build_ground(site) if ground is None else ground.under(site)
    surface = laying_surface(site, ground.surface)
    with one_thread():
        layout = choose_layout(designed_by(site), surface, method, compare)
    return design_of(ground, surface, layout)
