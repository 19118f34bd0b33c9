"""The bed as designed: every level from the stripped ground up to the finished grade."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from shapely import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

from dripfield.bed.dig import (
    MISSING,
    check_cover,
    dig_floor,
    stripped_along,
    stripped_within,
    surveyed_surface,
    uncovered,
)
from dripfield.bed.grade import design_grade, plane_over
from dripfield.bed.keepouts import check_kept, inside_shoulder, rings_of
from dripfield.bed.pieces import (
    Pieces,
    lower_of,
    overlay,
    pieces_of,
    pieces_of_area,
    upper_of,
)
from dripfield.bed.profile import drape
from dripfield.bed.tie import Rings, Ways, daylight, tie_in
from dripfield.core.arrays import Floats
from dripfield.core.errors import InputError, input_error
from dripfield.ground.laying import LayingSurface
from dripfield.ground.triangles.tin import Surface
from dripfield.site.model import Site
from dripfield.site.schema.bed_section import BedSection

_CROSSED = 1e-6  # levels may cross by this, which is rounding [site unit]


@dataclass(frozen=True)
class Layer:
    """A layer of the bed.

    Attributes
    ----------
    material : str
    lower, upper : str
        The levels under and over it.
    where : str
        ``all``, ``inside`` the shoulder's edge or ``beyond`` it.
    """

    material: str
    lower: str
    upper: str
    where: Literal["all", "inside", "beyond"] = "all"


@dataclass(frozen=True)
class BedDesign:
    """A bed's levels and outlines.

    Attributes
    ----------
    site : Site
    section : BedSection
    inner : Polygon
        Inside the shoulder's edge: where the top of sand is the design grade.
    daylight : Polygon or MultiPolygon
        Out to the daylight line: where the finished grade meets the ground.
    footprint : Polygon or MultiPolygon
        Wherever earth is moved: ``daylight`` and the sides of a dig that reach beyond it.
    tubing_area : Polygon or MultiPolygon
        Where tubing may lie.
    grade : Surface
        The design grade: the top of sand inside the shoulder's edge, carried on a little beyond.
    pieces : Pieces
        All of the footprint, with the levels ``ground``, ``stripped``, ``sand``, those between
        cover layers (``cover 1`` …) and ``finished``.
    inside : Pieces
        The part of them inside the shoulder's edge.
    beyond : Pieces
        The part of them outside it: side slopes and the sides of the dig.
    layers : tuple of Layer
        Sand first, then the cover layers upward, then what fills the side slopes where that is
        another material than the sand.
    limiting : Surface or None
        The limiting layer.
    """

    site: Site
    section: BedSection
    inner: Polygon
    daylight: Polygon | MultiPolygon
    footprint: Polygon | MultiPolygon
    tubing_area: Polygon | MultiPolygon
    grade: Surface
    pieces: Pieces
    inside: Pieces
    beyond: Pieces
    layers: tuple[Layer, ...]
    limiting: Surface | None

    @cached_property
    def surfaces(self) -> Mapping[str, Surface]:
        """Each level as a surface, and ``tubing``: the height the tubing lies at in its area."""
        named = {name: self.pieces.surface(name) for name in self.pieces.levels}
        over = overlay(self.inside.only("sand"), pieces_of_area(self.tubing_area))
        if len(over):
            lifted = over.with_level("tubing", over.levels["sand"] + self.section.tubing_height)
            named["tubing"] = lifted.surface("tubing")
        return named

    @property
    def cover_layers(self) -> tuple[Layer, ...]:
        """The layers over the top of sand, upward."""
        return tuple(layer for layer in self.layers if layer.lower != "stripped")

    def pieces_of(self, layer: Layer) -> Pieces:
        """The pieces that a layer lies in."""
        return {"all": self.pieces, "inside": self.inside, "beyond": self.beyond}[layer.where]

    @property
    def cover_depth(self) -> float:
        """Depth of the cover over the tubing [site unit]."""
        return self.section.cover_depth

    def sand_under_tubing(self) -> Floats:
        """Depth of sand under the tubing at the corners of ``inside``, (t, 3) [site unit]."""
        top = self.inside.levels["sand"] + min(self.section.tubing_height, 0.0)
        return np.asarray(top - self.inside.levels["stripped"])


def section_of(site: Site) -> BedSection:
    """The site's bed section.

    Raises
    ------
    InputError
        The site has none.
    """
    section = site.file.bed.section
    if section is None:
        raise input_error(
            "the site has no bed section",
            'add [bed.section], for tubing set into the ground as it is with grade = "ground"',
            file="site.toml",
            field="[bed]",
        )
    return section


def design_bed(site: Site, ground: Surface) -> BedDesign:
    """Work out a bed's levels from its section.

    Parameters
    ----------
    site : Site
        With a ``[bed.section]``.
    ground : Surface
        Existing ground.

    Returns
    -------
    BedDesign

    Raises
    ------
    InputError
        Layers that cross, a dig below the limiting layer or where nothing is surveyed, side slopes
        that do not meet the ground inside the surveyed area.
    """
    section = section_of(site)
    inner = inside_shoulder(site, section)
    dug_area = orient(inner.buffer(section.dig_beyond, join_style="mitre"))
    check_cover(ground, dug_area, site.file.survey.points, "existing ground", site)
    floor = dig_floor(site, section, dug_area)
    _check_cover_over_tubing(section)
    existing = pieces_of(ground, "ground")
    grade = _grade(site, section, ground, inner, floor)
    inside = overlay(stripped_within(existing, floor, inner), pieces_of(grade, "sand"))
    if inside.areas.sum() < (1.0 - MISSING) * inner.area:
        raise uncovered(inner, inner, "existing ground", site.file.survey.points, site)
    deep = _need(section)
    if section.deepen:
        inside = inside.with_level("floor", inside.levels["sand"] - deep)
        inside = lower_of(inside, "stripped", "floor", "stripped").only(
            "ground", "stripped", "sand"
        )
    _check_layers(inside, section, site)
    cover = _cover(section)
    inside = inside.with_level("finished", inside.levels["sand"] + cover)
    along = [drape(ring, grade)[:-1] for ring in rings_of(inner)]
    digs = floor != 0.0  # a surface, or a depth
    rings = Rings(
        finished=tuple(ring + np.array((0.0, 0.0, cover)) for ring in along),
        dig=tuple(stripped_along(ring, ground, floor)[:-1] for ring in rings_of(dug_area))
        if digs
        else (),
        deep=tuple(ring - np.array((0.0, 0.0, deep)) for ring in along) if section.deepen else (),
    )
    dug = stripped_within(existing, floor, dug_area)
    ways = Ways(section.side_slope, section.dig_slope, section.corner, section.strip or 0.0)
    apron = tie_in(ground, inner, dug, rings, ways, site.unit)
    limiting = _limiting(site, section, inner)
    if limiting is not None:
        _check_dig(inside, limiting, site)
    inside_layers, layers = _layered(inside, section)
    beyond, _ = _layered(apron.pieces, section)
    daylight_area = daylight(inner, apron.pieces.where(apron.sloped))
    check_kept(site, section, daylight_area)
    return BedDesign(
        site=site,
        section=section,
        inner=inner,
        daylight=daylight_area,
        footprint=daylight_area if apron.sloped.all() else daylight(inner, apron.pieces),
        tubing_area=site.bed.open_area(site.settings.edge_clearance),
        grade=grade,
        pieces=inside_layers.joined(beyond),
        inside=inside_layers,
        beyond=beyond,
        layers=layers,
        limiting=limiting,
    )


def laying_surface(site: Site, surface: Surface) -> LayingSurface:
    """The surface that laterals are laid on: the top of sand, where the site has a bed section.

    Parameters
    ----------
    site : Site
    surface : Surface
        Existing ground.

    Returns
    -------
    LayingSurface
        On ``surface`` itself where the site has no section or its grade is the ground as it is;
        otherwise on the design grade, which covers the bed and its shoulder.

    Raises
    ------
    InputError
        As :func:`design_bed`, of the dig and the grade.
    """
    section = site.file.bed.section
    smoothing = site.settings.smoothing
    if section is None or section.grade == "ground":
        return LayingSurface(surface, smoothing)
    inner = inside_shoulder(site, section)
    check_cover(surface, inner, site.file.survey.points, "existing ground", site)
    top = _grade(site, section, surface, inner, dig_floor(site, section, inner))
    return LayingSurface(top, smoothing, built=True)


def _grade(
    site: Site, section: BedSection, ground: Surface, inner: Polygon, floor: Surface | float
) -> Surface:
    """The design grade from the stripped ground."""
    base = stripped_within(pieces_of(ground, "ground"), floor, inner)
    base = base.with_level("base", base.levels["stripped"] + _need(section))
    return design_grade(section, ground, base, inner, site.unit)


def _need(section: BedSection) -> float:
    """Least height of the top of sand over the stripped ground."""
    if section.sand == 0.0:
        return 0.0
    return section.sand + max(-section.tubing_height, 0.0)


def _cover(section: BedSection) -> float:
    return sum(layer.depth for layer in section.cover)


def _check_cover_over_tubing(section: BedSection) -> None:
    cover = _cover(section)
    if cover < section.tubing_height:
        raise input_error(
            f"layers cross: the cover is {cover:g} deep and the tubing lies "
            f"{section.tubing_height:g} over the top of sand, above the finished grade",
            "give more cover, or a smaller tubing_height",
            file="site.toml",
            field="[bed.section] cover",
        )


def _check_layers(inside: Pieces, section: BedSection, site: Site) -> None:
    """Refuse a top of sand, or tubing in sand, below the stripped ground."""
    drop = min(section.tubing_height, 0.0) if section.sand else 0.0
    room = inside.levels["sand"] + drop - inside.levels["stripped"]
    if room.min() >= -_CROSSED:
        return
    place = inside.xy.reshape(-1, 2)[int(room.argmin())]
    short = site.unit.short
    what = "the tubing" if drop else "the top of sand"
    remedy = {
        "plane": "give a higher elevation, or leave it out",
        "follow": "give a greater rise, or leave it out",
    }.get(section.grade, "strip deeper")
    raise input_error(
        f"layers cross: {what} lies {-room.min():.{site.unit.places}f} {short} below the stripped "
        f"ground at N {place[1]:.1f}, E {place[0]:.1f}",
        f"{remedy}, or write deepen = true to dig down to it",
        file="site.toml",
        field="[bed.section]",
    )


def _limiting(site: Site, section: BedSection, inner: Polygon) -> Surface | None:
    if section.limiting is not None and section.limiting_surface is not None:
        raise input_error(
            "limiting and limiting_surface are both given",
            "keep the one that says where the limiting layer is",
            file="site.toml",
            field="[bed.section]",
        )
    if section.limiting_surface is not None:
        surface = surveyed_surface(site, section.limiting_surface, "limiting_surface")
        check_cover(surface, inner, section.limiting_surface, "the limiting layer", site)
        return surface
    if section.limiting is not None:
        middle = np.array((inner.centroid.x, inner.centroid.y))
        return plane_over(inner, middle, section.limiting, np.zeros(2))
    return None


def _check_dig(inside: Pieces, limiting: Surface, site: Site) -> None:
    """Refuse a dig that goes below the limiting layer."""
    both = overlay(inside, pieces_of(limiting, "limiting"))
    below = both.levels["limiting"] - both.levels["stripped"]
    if below.max() <= _CROSSED:
        return
    place = both.xy.reshape(-1, 2)[int(below.argmax())]
    raise _too_deep(place, float(below.max()), site)


def _too_deep(place: Floats, below: float, site: Site) -> InputError:
    return input_error(
        f"the dig goes {below:.{site.unit.places}f} {site.unit.short} below the limiting layer at "
        f"N {place[1]:.1f}, E {place[0]:.1f}",
        "strip less, raise the grade, or correct the limiting layer",
        file="site.toml",
        field="[bed.section]",
    )


def _layered(pieces: Pieces, section: BedSection) -> tuple[Pieces, tuple[Layer, ...]]:
    """Add the tops of sand and cover, each the finished grade less what lies over it.

    None lies below the stripped ground, and toward the daylight line they thin out against it.
    """
    depths = [layer.depth for layer in section.cover]
    names = ["sand", *(f"cover {number}" for number in range(1, len(depths))), "finished"]
    result = pieces.only("ground", "stripped", "finished")
    for number, name in enumerate(names[: len(depths)]):
        over = sum(depths[number:])
        result = result.with_level("over", result.levels["finished"] - over)
        result = upper_of(result, "over", "stripped", name)
    if not depths:
        result = result.with_level("sand", result.levels["finished"])
    tops = names if depths else ["sand"]
    kept = ("ground", "stripped", *dict.fromkeys((*tops, "finished")))
    other = section.side_material is not None
    layers = [Layer("sand", "stripped", "sand", "inside" if other else "all")]
    layers += [
        Layer(layer.name, lower, upper)
        for layer, lower, upper in zip(section.cover, names, names[1:], strict=False)
    ]
    if section.side_material is not None:
        layers.append(Layer(section.side_material, "stripped", "sand", "beyond"))
    return result.only(*kept), tuple(layers)
