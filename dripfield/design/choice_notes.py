"""What a person should know of how a layout was chosen."""

from __future__ import annotations

from dripfield.design.candidates import PLAIN
from dripfield.design.choose import UNSURE, Choice
from dripfield.design.worth import frontier
from dripfield.layout.model import Layout, PanelOption
from dripfield.site.model import LayoutSettings, Site

_BARE = 1e-6  # of the bed: less is rounding


def choice_notes(choice: Choice, options: tuple[PanelOption, ...], site: Site) -> tuple[str, ...]:
    """Why this layout and no other.

    Parameters
    ----------
    choice : Choice
    options : tuple of PanelOption
        Those shown.
    site : Site

    Returns
    -------
    tuple of str
    """
    settings = site.settings
    return (
        *_plain_cost(choice, options, site),
        *_panels_asked(choice, settings),
        *_panels_tried(choice, options, settings),
    )


def area_notes(site: Site, bare: float) -> tuple[str, ...]:
    """What a person should know of the area laid out.

    Parameters
    ----------
    site : Site
    bare : float
        What of the open bed is not surveyed [site unit squared].

    Returns
    -------
    tuple of str
    """
    unit = site.unit.short
    if bare <= _BARE * site.bed.boundary.area:
        return ()
    return (
        f"{bare:,.0f} sq {unit} of the open bed lie beyond the survey: no lateral is laid there",
    )


def panels_ignored(method: str, settings: LayoutSettings) -> tuple[str, ...]:
    """A note that a plain method has no panels, where the site asks for some."""
    asked = [
        name
        for name, given in (
            ("panels", (settings.panels or 1) > 1),
            ("seams", bool(settings.seams)),
            ("panel_methods", bool(settings.panel_methods)),
        )
        if given
    ]
    if method not in PLAIN or not asked:
        return ()
    several = len(asked) > 1
    return (
        f"{' and '.join(asked)} under [layout] {'are' if several else 'is'} passed over: the "
        f"method {method} lays the bed in one piece; balanced divides it",
    )


def _plain_cost(choice: Choice, options: tuple[PanelOption, ...], site: Site) -> tuple[str, ...]:
    """What plain lines cost where one field of bent lines measures better."""
    bent = choice.bent
    if bent is None:
        return ()
    laid = next(one for one in options if one.chosen)
    lines = f"{choice.layout.method} lines are kept"
    more = bent.tubing - laid.tubing
    return (
        f"{lines} though lines bent freely would gain "
        f"{bent.merit - laid.merit:.3f} of merit ({bent.laterals - laid.laterals:+d} connections, "
        f"{more:+,.0f} {site.unit.short} of tubing): plainer lines are easier to stake, and are "
        f"given up only where over {site.settings.panel_gain:g} of merit (panel_gain) lies out of "
        "tolerance or bare",
    )


def _panels_asked(choice: Choice, settings: LayoutSettings) -> tuple[str, ...]:
    """That fewer panels hold a lateral than were asked for."""
    asked = settings.panels or 0
    held = len({one.panel for one in choice.layout.laterals})
    if settings.seams:
        asked = len(settings.seams) + 1
    if held >= asked:
        return ()
    return (
        f"of {asked} panels asked for, {held} hold a lateral: the others are too narrow for one "
        f"of {settings.min_length:g}",
    )


def _panels_tried(
    choice: Choice, options: tuple[PanelOption, ...], settings: LayoutSettings
) -> tuple[str, ...]:
    """Why no more panels were tried, or that another number of them turned out better."""
    if settings.panels or settings.seams:
        return ()
    tried = options[-1].panels
    if choice.settled and tried < settings.max_panels:
        return (
            f"tried with up to {tried} panel{'s' if tried > 1 else ''}: none more could gain the "
            f"{settings.panel_gain:g} of merit that panel_gain asks of each",
        )
    laid = next(option for option in options if option.chosen)
    area = laid.short * settings.spacing / max(1.0 - laid.merit, 1e-9)
    price = settings.connection_worth * settings.spacing / area if area > 0.0 else 0.0

    def worth(option: PanelOption) -> float:
        return option.merit - settings.panel_gain * option.panels - price * option.laterals

    most = max(options, key=worth)
    if worth(most) <= worth(laid) + UNSURE or most.mean < settings.least_mean_length:
        return ()
    return (
        f"{most.panels} panel{'s' if most.panels > 1 else ''} would reach a merit of "
        f"{most.merit:.3f} against {laid.merit:.3f}: panels = {most.panels} under [layout] takes "
        "that",
    )


def price_of_steps(
    options: tuple[PanelOption, ...], short: str
) -> list[tuple[PanelOption, str, bool]]:
    """Each option with the price of the step to it, and whether no other beats it.

    Parameters
    ----------
    options : tuple of PanelOption
        Panels rising.
    short : str
        The site's unit.

    Returns
    -------
    list of (PanelOption, str, bool)
        ``+38 connections, -270 ft of tubing, +0.020 merit``; empty for the first. The last says
        whether no other option has both as much merit and as few connections.
    """
    rows = []
    for k, (one, on) in enumerate(zip(options, frontier(options), strict=True)):
        step = ""
        if k:
            last = options[k - 1]
            step = (
                f"{one.laterals - last.laterals:+d} connections, "
                f"{one.tubing - last.tubing:+,.0f} {short} of tubing, "
                f"{one.merit - last.merit:+.3f} merit"
            )
        rows.append((one, step, on))
    return rows


def none_fits(site: Site, choice: Layout) -> tuple[str, str, str]:
    """Why no lateral is laid: problem, remedy and field.

    Parameters
    ----------
    site : Site
    choice : Layout
        The layout without laterals.

    Returns
    -------
    (str, str, str)
    """
    settings = site.settings
    if settings.panels is not None and settings.panels > 1:
        west, _, east, _ = choice.area.bounds
        return (
            f"{settings.panels} panels leave each about "
            f"{(east - west) / settings.panels:.1f} {site.unit.short} wide, too narrow for a "
            f"lateral of at least {settings.min_length:g} {site.unit.short}",
            "give fewer panels, or leave panels out to have their number chosen",
            "[layout] panels",
        )
    return (
        f"no lateral of at least {settings.min_length:g} fits the bed at a spacing of "
        f"{settings.spacing:g}",
        "check spacing, edge_clearance and min_length",
        "[layout]",
    )
