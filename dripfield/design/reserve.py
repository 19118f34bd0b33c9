"""A share of the tolerances kept back for laying: designed to the rest, judged by the whole."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from dripfield.core.errors import input_error

if TYPE_CHECKING:
    from dripfield.site.model import LayoutSettings, Site


def reserved_settings(settings: LayoutSettings, reserve: float) -> LayoutSettings:
    """Settings to design by so that a share of both tolerances is left for laying.

    Parameters
    ----------
    settings : LayoutSettings
    reserve : float
        From 0 to under 1.

    Returns
    -------
    LayoutSettings

    Raises
    ------
    InputError
        A reserve that leaves nothing to design by.
    """
    if not 0.0 <= reserve < 1.0:
        raise input_error(
            f"reserve is {reserve:g}",
            "give the share of the tolerances kept back for laying, from 0 to under 1",
            file="site.toml",
            field="[layout] reserve",
        )
    return replace(
        settings,
        level_tolerance=settings.level_tolerance * (1.0 - reserve),
        spacing_tolerance=settings.spacing_tolerance * (1.0 - reserve),
        reserve=0.0,
    )


def designed_by(site: Site) -> Site:
    """The site as it is designed by: with its tolerances less ``[layout] reserve``."""
    if site.settings.reserve == 0.0:
        return site
    return replace(site, settings=reserved_settings(site.settings, site.settings.reserve))
