"""The person's choice drawn: merit, connections and tubing for one panel, two, three …, and merit
against connections."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from dripfield.design.worth import frontier
from dripfield.layout.model import PanelOption
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    PALE,
    PAPER_WHITE,
    PENS,
    drawing_defaults,
    save_figure,
    shorten,
    write_text,
)
from dripfield.site.model import Site

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SIZE = (9.2, 3.2)  # inches


def panel_figure(site: Site, options: tuple[PanelOption, ...]) -> Figure:
    """Three small plots side by side against the number of panels, then merit against connections,
    the chosen one filled.

    Parameters
    ----------
    site : Site
        For its name and unit.
    options : tuple of PanelOption
        At least one.

    Returns
    -------
    Figure
    """
    from matplotlib.figure import Figure

    with drawing_defaults():
        figure = Figure(figsize=_SIZE, facecolor=PAPER_WHITE)
        write_text(
            figure,
            0.03,
            0.9,
            f"{shorten(site.name, 420.0, 11.0, bold=True)}: panels to choose from",
            11.0,
            bold=True,
        )
        plots: tuple[tuple[str, list[float], str], ...] = (
            ("merit", [option.merit for option in options], "{:.3f}"),
            ("connections", [option.laterals for option in options], "{:.0f}"),
            (f"tubing, {site.unit.short}", [option.tubing for option in options], "{:,.0f}"),
        )
        for place, (title, values, form) in enumerate(plots):
            axes = figure.add_axes((0.04 + 0.225 * place, 0.2, 0.19, 0.54))
            _draw(axes, title, options, values, form)
        _draw_frontier(figure.add_axes((0.755, 0.24, 0.215, 0.5)), options)
        write_text(
            figure,
            0.03,
            0.02,
            "Filled: laid. Another is taken with panels = N under [layout] in site.toml. On the "
            "line: no other has as much merit with as few connections.",
            8.0,
            color=DIM,
        )
    return figure


def write_panels(site: Site, options: tuple[PanelOption, ...], path: Path) -> None:
    """Write :func:`panel_figure` as a picture.

    Parameters
    ----------
    site : Site
    options : tuple of PanelOption
    path : Path
    """
    save_figure(panel_figure(site, options), path)


def _draw(
    axes: Any, title: str, options: tuple[PanelOption, ...], values: list[float], form: str
) -> None:
    """One plot: the values as dots on stems, each written above its dot."""
    top = max(values)
    axes.set_title(title, fontsize=9.0, loc="left")
    axes.set_xticks([option.panels for option in options])
    axes.set_xlim(options[0].panels - 0.6, options[-1].panels + 0.6)
    axes.set_ylim(0.0, 1.18 * top if top > 0.0 else 1.0)
    axes.set_yticks([])
    axes.tick_params(length=0.0, labelsize=8.0)
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    for option, value in zip(options, values, strict=True):
        axes.plot((option.panels,) * 2, (0.0, value), color=PALE, linewidth=PENS["thin"])
        axes.plot(
            option.panels,
            value,
            "o",
            markersize=6.0,
            color=INK,
            markerfacecolor=INK if option.chosen else PAPER_WHITE,
        )
        axes.annotate(
            form.format(value),
            (option.panels, value),
            xytext=(0, 6),
            textcoords="offset points",
            ha="center",
            fontsize=8.0,
        )


def _draw_frontier(axes: Any, options: tuple[PanelOption, ...]) -> None:
    """Merit over connections, each option marked with its panels; those that none beats joined."""
    axes.set_title("merit over connections", fontsize=9.0, loc="left")
    count = [option.laterals for option in options]
    merit = [option.merit for option in options]
    wide, high = max(max(count) - min(count), 4), max(max(merit) - min(merit), 0.02)
    axes.set_xlim(min(count) - 0.15 * wide, max(count) + 0.15 * wide)
    axes.set_ylim(min(merit) - 0.15 * high, max(merit) + 0.25 * high)
    axes.tick_params(length=2.0, labelsize=8.0)
    axes.locator_params(nbins=4)
    for side in ("right", "top"):
        axes.spines[side].set_visible(False)
    best = sorted(
        (option.laterals, option.merit)
        for option, on in zip(options, frontier(options), strict=True)
        if on
    )
    axes.plot(*zip(*best, strict=True), color=DIM, linewidth=PENS["medium"])
    for option in options:
        at = (option.laterals, option.merit)
        face = INK if option.chosen else PAPER_WHITE
        axes.plot(*at, "o", markersize=6.0, color=INK, markerfacecolor=face)
        axes.annotate(
            str(option.panels),
            at,
            xytext=(0, 6),
            textcoords="offset points",
            ha="center",
            fontsize=8.0,
        )
