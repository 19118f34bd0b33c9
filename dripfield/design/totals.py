"""Totals of a design: by panel, emitters and flow, and the short code that names a layout."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from dripfield.layout.model import Layout
from dripfield.measures.laterals import LateralMeasure

_CODE = 8  # letters and digits of a layout's code
_MINUTES = 60.0


@dataclass(frozen=True)
class PanelTotal:
    """One panel's laterals; lengths in the site's unit."""

    panel: str
    laterals: int
    tubing: float
    shortest: float
    longest: float
    emitters: int | None


@dataclass(frozen=True)
class Totals:
    """A whole design.

    Attributes
    ----------
    panels : tuple of PanelTotal
        From left to right looking down the slope.
    connections : int
        Laterals, each joined at both its ends.
    tubing, shortest, longest : float
        [site unit]
    emitters : int or None
        None where the site names no emitters.
    flow : float or None
        Of all emitters together [gal/min, on a site in metres L/min]; None where it is not given.
    """

    panels: tuple[PanelTotal, ...]
    connections: int
    tubing: float
    shortest: float
    longest: float
    emitters: int | None
    flow: float | None


def emitter_count(length: float, spacing: float) -> int:
    """Emitters of a lateral: as many as its length holds whole spacings, but for rounding."""
    return int(np.floor(length / spacing * (1.0 + 1e-12) + 1e-9))


def totals_of(
    laterals: Iterable[LateralMeasure], spacing: float | None, flow: float | None
) -> Totals:
    """Totals by panel and in all.

    Parameters
    ----------
    laterals : iterable of LateralMeasure
        In the layout's order.
    spacing : float or None
        Of the emitters along the tubing [site unit].
    flow : float or None
        Of one emitter [gal/h, on a site in metres L/h].

    Returns
    -------
    Totals
    """
    by_panel: dict[str, list[float]] = {}
    for one in laterals:
        by_panel.setdefault(one.panel, []).append(one.length)
    panels = []
    for panel, lengths in by_panel.items():
        count = None if spacing is None else sum(emitter_count(one, spacing) for one in lengths)
        panels.append(
            PanelTotal(panel, len(lengths), sum(lengths), min(lengths), max(lengths), count)
        )
    emitters = None if spacing is None else sum(one.emitters or 0 for one in panels)
    return Totals(
        panels=tuple(panels),
        connections=sum(one.laterals for one in panels),
        tubing=sum(one.tubing for one in panels),
        shortest=min((one.shortest for one in panels), default=0.0),
        longest=max((one.longest for one in panels), default=0.0),
        emitters=emitters,
        flow=None if emitters is None or flow is None else emitters * flow / _MINUTES,
    )


def layout_code(layout: Layout, unit: str) -> str:
    """A short code: the same for the same laterals, another for others.

    It is drawn from names, places and elevations to the thousandth of a unit by SHA-256 (FIPS
    180-4), written in base 32 (RFC 4648).

    Parameters
    ----------
    layout : Layout
    unit : str
        The site's unit as written in its file.

    Returns
    -------
    str
        Two groups of four, such as ``K7QD-2MXA``.
    """
    text = [unit]
    for one in layout.laterals:
        places = " ".join(f"{x + 0.0:.3f},{y + 0.0:.3f}" for x, y in one.xy)
        text.append(f"{one.name}|{one.panel}|{one.elevation:.3f}|{places}")
    digest = hashlib.sha256("\n".join(text).encode()).digest()
    letters = base64.b32encode(digest).decode()[:_CODE]
    return f"{letters[:4]}-{letters[4:]}"
