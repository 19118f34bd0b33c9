"""Invented fields: straight laterals down a plane, with rocks in the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon, box

from dripfield.core.units import Unit
from dripfield.layout.model import Lateral
from dripfield.zones.settings import ZoneSettings, bore_from, flow_from


@dataclass(frozen=True)
class Plane:
    """Falls by a tenth to the south."""

    def elevation(self, xy):
        return 100.0 + 0.1 * np.asarray(xy)[:, 1]

    def gradient(self, xy):
        return np.tile((0.0, 0.1), (len(xy), 1))


def settings(longest: float = 300.0, **more) -> ZoneSettings:
    """Tubing of 0.57 in with 0.6 gal/h every 2 ft, flushed at 2 ft/s."""
    unit = Unit.FOOT
    figures = {
        "spacing": 2.0,
        "clearance": 1.0,
        "flush_velocity": 2.0,
        "bore": bore_from(unit, 0.57),
        "emitter_spacing": 2.0,
        "emitter_flow": flow_from(unit, 0.6, "hour"),
    }
    return ZoneSettings(unit=unit, longest=longest, **(figures | more))


def rocky(
    rows: int, width: float, rocks: int, seed: int
) -> tuple[list[Lateral], Polygon, list[Polygon]]:
    """Laterals on a plane, 2 ft on centre, some of them short or cut by square rocks."""
    rng = np.random.default_rng(seed)
    keepouts: list[Polygon] = []
    for _ in range(rocks):
        size = rng.uniform(3.0, min(8.0, 0.3 * width))
        x = rng.uniform(6.0, width - size - 6.0)
        y = -rng.uniform(3.0, max(2.0 * rows - size - 2.0, 4.0))
        rock = box(x, y - size, x + size, y)
        if all(rock.distance(other) > 6.0 for other in keepouts):
            keepouts.append(rock)
    bed = box(-1.0, -2.0 * rows + 1.0, width + 1.0, 1.0)
    area = bed.buffer(-0.999)
    for rock in keepouts:
        area = area.difference(rock.buffer(1.0))
    found = []
    for row in range(rows):
        end = width if row % 3 else width * rng.uniform(0.5, 1.0)
        cut = area.intersection(LineString([(0.0, -2.0 * row), (end, -2.0 * row)]))
        found += [part for part in shapely.get_parts(cut) if part.length >= 5.0]
    laterals = [
        Lateral(
            f"L{i:02}",
            "A",
            np.array(part.segmentize(4.0).coords),
            100.0 + 0.1 * part.coords[0][1] + 0.001 * float(rng.uniform()),
        )
        for i, part in enumerate(found, 1)
    ]
    return laterals, bed, keepouts


def plain(rows: int, width: float) -> tuple[list[Lateral], Polygon]:
    """Equal laterals, 2 ft on centre, in a rectangle."""
    laterals = [
        Lateral(f"L{i + 1:02}", "A", np.array([[0.0, -2.0 * i], [width, -2.0 * i]]), 100 - 0.2 * i)
        for i in range(rows)
    ]
    return laterals, box(-1.0, -2.0 * rows + 1.0, width + 1.0, 1.0)
