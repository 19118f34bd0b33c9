"""Fields made up for the tests: joined laterals on level or falling ground, manifolds, lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from dripfield.core.units import Unit
from dripfield.hydraulics.figures import (
    DesignFigures,
    EmitterFigures,
    Figures,
    PumpFigures,
    TubingFigures,
)
from dripfield.zones.model import JoinedLateral, Manifold, Piece, Pipe, Zone, ZonePlan

FITTED = tuple((q, 120.0 - 0.0889 * q**2) for q in np.linspace(0.0, 30.0, 241))
"""The curve h = 120 - 0.0889 Q^2 in short straight lines [gal/min, ft]."""


def line(*points: Sequence[float]) -> np.ndarray:
    return np.asarray(points, dtype=float)


def lateral(name, x, y, z, length, spacing, fall=0.0):
    """A straight lateral east from (x, y): centred emitters, falling by ``fall`` to its far end."""
    count = int(length / spacing + 1e-9)
    at = (length - (count - 1) * spacing) / 2.0 + spacing * np.arange(count)
    return Piece(name, line((x, y, z), (x + length, y, z - fall)), at)


def make_field(
    unit=Unit.FOOT,
    count=6,
    length=222.0,
    spacing=2.0,
    height=18.0,
    step=0.0,
    fall=0.0,
    supply_length=120.0,
    bore=1.610,
    manifold_bore=None,
    apart=None,
    zones=1,
    outlet=None,
):
    """``count`` joined laterals of one straight lateral each, tapped from manifolds at their ends.

    ``step`` is the fall from one to the next, ``fall`` that of each from supply to return;
    ``apart`` the distance between them; bores in in or mm.
    """
    bores = 1000.0 if unit.is_metric else 12.0
    manifold_bore = manifold_bore or 4.0 * bore
    apart = apart if apart is not None else spacing
    per_zone = count // zones
    made = []
    for z in range(zones):
        joined, left, right = [], [], []
        for k in range(per_zone):
            number = z * per_zone + k
            level = height - number * step
            y = -number * apart
            piece = lateral(f"L{number + 1:02d}", 0.0, y, level, length, spacing, fall)
            joined.append(JoinedLateral(f"J{number + 1:02d}", (piece,)))
            left.append((0.0, y, level))
            right.append((length, y, level - fall))
        name = f"Z{z + 1}"
        taps = {one.name: k for k, one in enumerate(joined)}
        ends = tuple((k, k + 1) for k in range(per_zone - 1))
        manifolds = [
            Manifold(
                name,
                side,
                line(*nodes),
                tuple(
                    Pipe(f"{name} {side} {k + 1}", line(nodes[k], nodes[k + 1]), size / bores)
                    for k in range(per_zone - 1)
                ),
                ends,
                taps,
            )
            for side, nodes, size in (
                ("supply", left, manifold_bore),
                ("return", right, manifold_bore),
            )
        ]
        made.append(Zone(name, tuple(joined), per_zone * length * spacing, *manifolds))
    top = made[0].joined[0].supply_end
    away = np.sqrt(max(supply_length**2 - height**2, 0.01))
    pump = np.array([top[0] - away, top[1], 0.0])
    far = made[0].joined[0].return_end
    down = np.array([far[0] + 1.0, far[1], far[2] if outlet is None else outlet])
    return ZonePlan(
        tuple(made),
        (Pipe("supply", line(pump, top), bore / bores, "1-1/2 in"),),
        (Pipe("return", line(far, down), bore / bores, "1-1/2 in"),),
    )


def make_us_figures(**changes):
    """The invented tubing of the tests in US units; ``changes`` go to the tables they belong to."""
    emitters = {"spacing": 2.0, "flow": 0.6, "pressure_least": 10.0, "pressure_most": 60.0}
    tubing = {"bore": 0.57}
    pump = {"curve": FITTED, "level": 0.0, "other_loss": ()}
    design = {"flush_velocity": 2.0, "water_temperature": 66.68}
    return made(Unit.FOOT, emitters, tubing, pump, design, changes)


def make_metric_figures(**changes):
    """The same tubing in metric units, to the last digit."""
    emitters = {
        "spacing": 2.0 * 0.3048,
        "flow": 0.6 * 3.785411784,
        "pressure_least": 10.0 * 6.895,
        "pressure_most": 60.0 * 6.895,
    }
    tubing = {"bore": 0.57 * 25.4}
    curve = tuple((q * 3.785411784, h * 0.3048) for q, h in FITTED)
    pump = {"curve": curve, "level": 0.0, "other_loss": ()}
    design = {"flush_velocity": 2.0 * 0.3048, "water_temperature": (66.68 - 32.0) / 1.8}
    return made(Unit.METRE, emitters, tubing, pump, design, changes)


def made(unit, emitters, tubing, pump, design, changes):
    for key, value in changes.items():
        table = next(
            table
            for table, kind in (
                (emitters, EmitterFigures),
                (tubing, TubingFigures),
                (pump, PumpFigures),
                (design, DesignFigures),
            )
            if key in kind.__dataclass_fields__
        )
        table[key] = value
    return Figures(
        unit,
        EmitterFigures(**emitters),
        TubingFigures(**tubing),
        PumpFigures(**pump),
        DesignFigures(**design),
    )


@pytest.fixture
def field():
    return make_field


@pytest.fixture
def us_figures():
    return make_us_figures


@pytest.fixture
def metric_figures():
    return make_metric_figures


@pytest.fixture
def fitted():
    return FITTED
