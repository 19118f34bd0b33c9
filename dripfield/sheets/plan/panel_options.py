"""The person's choice drawn: merit, connections and tubing for one panel, two, three …"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

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

_SIZE = (7.0, 3.2)  # inches


def panel_figure(site: Site, options: tuple[PanelOption, ...]) -> Figure:
    """Three small plots side by side against the number of panels, the chosen one filled.

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
            f"{shorten(site.name, 280.0, 11.0, bold=True)}: panels to choose from",
            11.0,
            bold=True,
        )
        plots: tuple[tuple[str, list[float], str], ...] = (
            ("merit", [option.merit for option in options], "{:.3f}"),
            ("connections", [option.laterals for option in options], "{:.0f}"),
            (f"tubing, {site.unit.short}", [option.tubing for option in options], "{:,.0f}"),
        )
        for place, (title, values, form) in enumerate(plots):
            axes = figure.add_axes((0.05 + 0.32 * place, 0.17, 0.27, 0.58))
            _draw(axes, title, options, values, form)
        write_text(
            figure,
            0.03,
            0.02,
            "Filled: laid. Another is taken with panels = N under [layout] in site.toml.",
            8.0,
            color=DIM,
        )
    return figure


def write_panels(site: Site, options: tuple[PanelOption, ...], path: Path) -> None:
    """Write :func:`panel_figure` as a picture."""
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
            fontsize=7.0,
        )
