"""Hand-made fields for the sheets: a plane, a cone and an awkward one, all invented."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import Point, Polygon, box, get_coordinates, get_parts, intersection, linestrings

from dripfield.core.units import Unit
from dripfield.design.model import Design, design_of
from dripfield.ground.ground import Ground
from dripfield.ground.laying import LayingSurface
from dripfield.ground.triangles.tin import Surface
from dripfield.layout.model import Lateral, Layout
from dripfield.site.model import Bed, LayoutSettings, Setback, Site
from dripfield.site.schema.bed import BedTable
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.site import SiteFile, SiteTable
from dripfield.site.schema.survey import SurveyTable
from dripfield.survey.shots import Survey

sys.path.insert(0, str(Path(__file__).parent))  # for the helpers beside this file


def make_field(
    height: Callable[[np.ndarray, np.ndarray], np.ndarray],
    bed: Bed,
    lines: list[tuple[str, str, np.ndarray, float]],
    *,
    name: str = "Upper Meadow",
    unit: Unit = Unit.FOOT,
    origin: tuple[float, float] = (0.0, 0.0),
    spacing: float = 2.0,
    shots: int = 15,
    panels: dict[str, Polygon] | None = None,
    seams: tuple[np.ndarray, ...] = (),
    crs: str | None = None,
) -> Design:
    """A field over an analytic ground: ``lines`` are (name, panel, xy, elevation)."""
    left, low, right, high = bed.boundary.buffer(4.0 * spacing).bounds
    random = np.random.default_rng(7)
    x, y = np.meshgrid(np.linspace(left, right, shots), np.linspace(low, high, shots))
    inner = (x > left) & (x < right) & (y > low) & (y < high)
    x = x + inner * random.uniform(-0.8, 0.8, x.shape)
    y = y + inner * random.uniform(-0.8, 0.8, x.shape)
    xyz = np.column_stack((x.ravel(), y.ravel(), height(x, y).ravel()))
    shift = np.array((*origin, 0.0))
    settings = LayoutSettings(
        spacing=spacing,
        spacing_measured="plan",
        edge_clearance=spacing / 2,
        method="balanced",
        level_tolerance=unit.default(0.10, 0.03),
        spacing_tolerance=0.10,
        min_length=2.5 * spacing,
        max_length=0.0,
        bearing=None,
        bend_radius=1.0,
        smoothing=0.0,
        panels=None,
        max_panels=6,
        panel_gain=0.015,
        stake_interval=unit.default(25.0, 8.0),
        contour_interval=None,
        coverage_multiple=3.0,
    )
    site = Site(
        folder=Path("upper_meadow"),
        file=SiteFile(
            site=SiteTable(
                name=name,
                units=unit.value,
                crs=crs,
                vertical_datum="assumed, peg at the gate 100.00",
                survey_date="2024-05-14",
            ),
            survey=SurveyTable(points="survey.csv"),
            bed=BedTable(boundary="bed.csv"),
            layout=LayoutTable(spacing=spacing),
        ),
        unit=unit,
        settings=settings,
        bed=moved_bed(bed, origin),
    )
    survey = Survey(
        xyz=xyz + shift,
        names=tuple(str(i + 1) for i in range(len(xyz))),
        descriptions=("GS",) * len(xyz),
        rows=np.arange(len(xyz)) + 2,
        source=Path("survey.csv"),
    )
    surface = Surface.from_points(xyz + shift)
    laterals = tuple(Lateral(n, p, xy + shift[:2], z) for n, p, xy, z in lines)
    layout = Layout(
        method="balanced",
        laterals=laterals,
        area=site.bed.open_area(settings.edge_clearance),
        panels={n: moved(a, origin) for n, a in (panels or {}).items()},
        seams=tuple(seam + shift[:2] for seam in seams),
        dropped_count=2,
        dropped_length=6.4,
    )
    ground = Ground(site, survey, survey, surface)
    return design_of(ground, LayingSurface(surface), layout)


def moved(area, origin):
    """A geometry shifted by the origin."""
    from shapely.affinity import translate

    return translate(area, *origin)


def moved_bed(bed: Bed, origin: tuple[float, float]) -> Bed:
    """A bed shifted by the origin."""
    return Bed(
        boundary=moved(bed.boundary, origin),
        keepouts=tuple(moved(one, origin) for one in bed.keepouts),
        keepout_names=bed.keepout_names,
        setbacks=tuple(replace(s, feature=moved(s.feature, origin)) for s in bed.setbacks),
    )


def plane(unit: Unit = Unit.FOOT, origin: tuple[float, float] = (0.0, 0.0), **options) -> Design:
    """Ten straight laterals of 78 on a plane falling 8 % to the south (hand-derived)."""
    spacing = unit.default(2.0, 0.6)
    width, depth = 40.0 * spacing, 10.0 * spacing
    lines = []
    for i in range(10):
        y = depth - (i + 0.5) * spacing
        xy = np.array(((0.5 * spacing, y), (width - 0.5 * spacing, y)))
        lines.append((f"L{i + 1:02d}", "A", xy, 100.0 + 0.08 * y))
    bed = Bed(box(0.0, 0.0, width, depth))
    return make_field(
        lambda x, y: 100.0 + 0.08 * y,
        bed,
        lines,
        unit=unit,
        origin=origin,
        spacing=spacing,
        **options,
    )


def cone(count: int = 12, **options) -> Design:
    """Concentric arcs on a cone falling 10 % outward from (0, 0) (hand-derived)."""
    low, high = np.radians(200.0), np.radians(340.0)
    lines = []
    for i in range(count):
        radius = 30.0 + 2.0 * i
        angle = np.linspace(low + 0.02, high - 0.02, 241)
        xy = radius * np.column_stack((np.cos(angle), np.sin(angle)))
        lines.append((f"L{i + 1:02d}", "A", xy, 110.0 - 0.1 * radius))
    angle = np.linspace(low, high, 121)
    ring = np.column_stack((np.cos(angle), np.sin(angle)))
    outer = 30.0 + 2.0 * (count - 1) + 1.0
    bed = Bed(Polygon(np.vstack((29.0 * ring, outer * ring[::-1]))))
    return make_field(lambda x, y: 110.0 - 0.1 * np.hypot(x, y), bed, lines, shots=41, **options)


def awkward(rows: int = 24, name: str = "Hollow behind the old orchard", **options) -> Design:
    """Wavy laterals in three panels round a keepout, some off level, many short pieces."""

    def height(x, y):
        return 100.0 + 0.1 * y + 1.0 * np.sin(x / 21.0) + 0.09 * np.sin(x / 7.0 + y / 9.0)

    depth = 2.0 * rows + 2.0
    ring = [
        (0, 4),
        (45, 0),
        (118, 3),
        (125, 0.5 * depth),
        (112, depth),
        (60, depth - 6),
        (8, depth),
    ]
    bed = Bed(
        Polygon(ring),
        keepouts=(Point(58, 0.45 * depth).buffer(6, quad_segs=4),),
        setbacks=(Setback("Well", Point(150.0, -30.0), 50.0, "local code"),),
    )
    area = bed.open_area(1.0)
    cuts = (0.0, 42.0, 85.0, 130.0)
    panels = {
        letter: area.intersection(box(cuts[i], -10, cuts[i + 1], depth + 10))
        for i, letter in enumerate("ABC")
    }
    x = np.linspace(-5, 130, 541)
    lines = []
    for panel, part in panels.items():
        number = 0
        for i in range(rows + 8):
            y = (
                depth
                + 8.0
                - 2.1 * i
                + {"A": 0.0, "B": 0.9, "C": 0.4}[panel]
                - 10.0 * np.sin(x / 21.0)
            )
            whole = intersection(linestrings(np.column_stack((x, y))), part)
            for piece in get_parts(whole):
                if piece.geom_type != "LineString" or piece.length < 3.0:
                    continue
                number += 1
                xy = get_coordinates(piece)
                elevation = float(np.mean(height(xy[:, 0], xy[:, 1])))
                lines.append((f"{panel}-L{number:02d}", panel, xy, elevation))
    seams = tuple(
        get_coordinates(intersection(area, linestrings([(c, -10), (c, depth + 10)])))
        for c in cuts[1:3]
    )
    return make_field(
        height, bed, lines, name=name, shots=25, panels=panels, seams=seams, **options
    )


@pytest.fixture(scope="session", name="plane")
def _plane() -> Design:
    return plane()


@pytest.fixture(scope="session", name="cone")
def _cone() -> Design:
    return cone()


@pytest.fixture(scope="session", name="awkward")
def _awkward() -> Design:
    return awkward()


@pytest.fixture(scope="session")
def hand():
    """The makers of fields, for those with other names, units or origins."""
    return sys.modules[__name__]
