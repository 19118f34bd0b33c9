"""Laying out a site: from its ground to a design."""

from __future__ import annotations

from dripfield.bed.design import laying_surface
from dripfield.core.threads import one_thread
from dripfield.design.choose import Say
from dripfield.design.kept import keep, kept, key_of
from dripfield.design.lay_bed import laying_area, layouts_of
from dripfield.design.model import Design, design_of
from dripfield.design.reserve import designed_by
from dripfield.ground.ground import Ground, build_ground
from dripfield.ground.laying import LayingSurface
from dripfield.layout.model import Layout
from dripfield.site.model import Site


def lay_out(
    site: Site,
    ground: Ground | None = None,
    method: str | None = None,
    *,
    compare: bool = False,
    say: Say | None = None,
) -> Design:
    """Lay out a site's bed and measure what was laid out.

    A layout made before from the same site, ground, program and libraries is taken from the user's
    cache folder (``$XDG_CACHE_HOME/dripfield``); ``DRIPFIELD_KEEP=0`` in the environment keeps and
    takes none.

    Parameters
    ----------
    site : Site
        From :func:`dripfield.site.reader.read_site`.
    ground : Ground, optional
        From :func:`dripfield.ground.ground.build_ground`; built here unless given. The site may
        have other settings than the one that it was built for.
    method : str, optional
        ``balanced``, ``contour``, ``offset`` or ``straight``, in place of the site's own; an
        accepted layout is then passed over.
    compare : bool
        For ``balanced``, show in the layout's ``options`` every number of panels allowed, though
        not laid.
    say : callable, optional
        Told in a few words what is being done and found.

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
        the ground has no contour direction, the bed has no room on surveyed ground, or what the
        site file fixes does not fit.

    Examples
    --------
    >>> from dripfield.site.reader import read_site
    >>> design = lay_out(read_site("sample_sites/meadow"))
    >>> lateral, found = design.laterals["L01"]
    >>> round(found.length), found.level_ok, found.spacing_ok
    (98, True, True)
    """
    ground = build_ground(site) if ground is None else ground.under(site)
    surface = laying_surface(site, ground.near)
    with one_thread():
        layout = _layout(designed_by(site), surface, method, compare, say)
    return design_of(ground, surface, layout)


def _layout(
    site: Site, surface: LayingSurface, method: str | None, compare: bool, say: Say | None
) -> Layout:
    """A layout kept from an earlier run, or a new one, which is then kept."""
    if method is None and site.settings.accepted is not None:
        return layouts_of(site, surface, method, compare, say)[-1]
    asked = method or site.settings.method
    key = key_of(site, surface, asked, compare)
    area, _ = laying_area(site, surface)
    found = kept(key, site, area)
    if found is not None:
        if say is not None:
            say("laid out before: taken as it was")
        return found
    layouts = layouts_of(site, surface, method, compare, say)
    keep(key, site, layouts[-1])
    if compare:
        keep(key_of(site, surface, asked, False), site, layouts[0])
    return layouts[-1]
