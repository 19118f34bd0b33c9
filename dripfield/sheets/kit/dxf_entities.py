"""Polylines and text put into model space on a layer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from shapely import MultiPolygon, Polygon

from dripfield.core.arrays import Floats
from dripfield.sheets.kit.dxf_document import drawing_text

if TYPE_CHECKING:
    from ezdxf.layouts.base import BaseLayout


def on(layer: str, **more: object) -> dict[str, object]:
    """Attributes of an entity on a layer."""
    return {"layer": layer, **more}


def polyline(
    space: BaseLayout, xy: Floats, layer: str, *, elevation: float = 0.0, closed: bool = False
) -> object:
    """Draw a polyline through points (k, 2) [drawing unit] at one elevation.

    Parameters
    ----------
    space : ezdxf layout
    xy : (k, 2) float array
        Further columns are left out [drawing unit].
    layer : str
    elevation : float
        [drawing unit]
    closed : bool
        The last point is joined to the first.

    Returns
    -------
    ezdxf LWPolyline
    """
    return space.add_lwpolyline(
        np.asarray(xy)[:, :2].tolist(),
        format="xy",
        close=closed,
        dxfattribs=on(layer, elevation=elevation),
    )


def text_at(
    space: BaseLayout,
    text: str,
    at: tuple[float, float],
    height: float,
    layer: str,
    *,
    angle: float = 0.0,
    align: str = "LEFT",
) -> None:
    """Write text of a height [drawing unit], turned by an angle [degrees counterclockwise].

    Parameters
    ----------
    space : ezdxf layout
    text : str
    at : (x, y)
        [drawing unit]
    height : float
        Of a capital [drawing unit].
    layer : str
    angle : float
        [degrees counterclockwise]
    align : str
        What of the text stands at ``at``, by its name in ``TextEntityAlignment``.
    """
    from ezdxf.enums import TextEntityAlignment

    entity = space.add_text(
        drawing_text(text),
        height=height,
        rotation=angle,
        dxfattribs=on(layer, linetype="CONTINUOUS"),
    )
    entity.set_placement(at, align=TextEntityAlignment[align])


def rings_of(area: Polygon | MultiPolygon) -> list[Floats]:
    """Every ring of an area, without the repeated last point."""
    rings = []
    for part in getattr(area, "geoms", [area]):
        for ring in (part.exterior, *part.interiors):
            if not ring.is_empty:
                rings.append(np.asarray(ring.coords)[:-1, :2])
    return rings
