"""What a section drawing says, whatever it is drawn with: names, depths, levels in their order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from dripfield.bed.design import BedDesign
from dripfield.bed.section import Section

_SAME = 0.01  # stations of a toe and a shoulder that are one [site unit]
_ASLANT = 0.1  # of the run, beyond which a face is crossed aslant
LEVEL_NAMES = {
    "ground": "existing ground",
    "stripped": "stripped ground",
    "sand": "top of sand",
    "tubing": "tubing",
    "finished": "finished grade",
    "limiting": "limiting layer",
}


@dataclass(frozen=True)
class Named:
    """A level or a layer with its name, and the levels whose middle it stands at.

    ``beyond`` says that it lies beyond the shoulder only.
    """

    text: str
    lower: str
    upper: str
    beyond: bool = False


def named_parts(design: BedDesign) -> list[Named]:
    """Levels and layers to name on a section, from the top down as they usually lie."""
    unit, section = design.site.unit, design.section
    parts = [Named(LEVEL_NAMES["finished"], "finished", "finished")]
    for layer, cover in zip(reversed(design.cover_layers), reversed(section.cover), strict=True):
        depth = f"{cover.depth:.{unit.places}f} {unit.short}"
        parts.append(Named(f"{layer.material}, {depth}", layer.lower, layer.upper))
    parts.append(Named(_tubing_words(design), "tubing", "tubing"))
    if section.sand or section.strip is not None:
        parts.append(Named(LEVEL_NAMES["sand"], "sand", "sand"))
        least = float(design.sand_under_tubing().min())
        depth = f"at least {least:.{unit.places}f} {unit.short} under tubing"
        parts.append(Named(f"sand, {depth}", "stripped", "sand"))
    if section.side_material is not None:
        parts.append(Named(f"{section.side_material}, side slopes", "stripped", "sand", True))
    if _digs(design):
        parts.append(Named(LEVEL_NAMES["stripped"], "stripped", "stripped"))
    parts.append(Named(LEVEL_NAMES["ground"], "ground", "ground"))
    if design.limiting is not None:
        parts.append(Named(LEVEL_NAMES["limiting"], "limiting", "limiting"))
    return parts


def drawn_levels(design: BedDesign) -> list[str]:
    """Levels that are drawn as lines, lowest first; those that coincide with another left out."""
    names = ["ground"]
    if _digs(design):
        names.append("stripped")
    names += dict.fromkeys(layer.upper for layer in design.layers)
    if "finished" not in names:
        names.append("finished")
    names.append("tubing")
    return names


def depths(design: BedDesign, levels: Sequence[str]) -> list[tuple[str, str, str]]:
    """Depths to dimension: the levels under and over, and a word before the figure."""
    section = design.section
    found = [("stripped", "ground", "strip ")]
    found += [(layer.lower, layer.upper, "") for layer in design.layers if layer.where != "beyond"]
    if len(section.cover) > 1 or section.tubing_height:
        found.append(("tubing", "finished", "cover "))
    if "limiting" in levels:
        found.append(("limiting", "tubing", "separation "))
    return found


def widest(section: Section) -> tuple[float, float]:
    """The longest stretch of tubing, or within the shoulders where there is none, or all."""
    stretches = section.tubing or section.shoulder or ((0.0, section.length),)
    return max(stretches, key=lambda stretch: stretch[1] - stretch[0])


def _digs(design: BedDesign) -> bool:
    levels = design.pieces.levels
    return bool((levels["ground"] - levels["stripped"]).max() > 1e-6)


def _tubing_words(design: BedDesign) -> str:
    unit, height = design.site.unit, design.section.tubing_height
    if height == 0.0:
        return "tubing, on the top of sand" if design.section.sand else "tubing"
    where = "over" if height > 0 else "below"
    what = "the top of sand" if design.section.sand else "the graded ground"
    return f"tubing, {abs(height):.{unit.places}f} {unit.short} {where} {what}"


def heading(section: Section) -> str:
    """Which way a section runs and between which points."""
    (e0, n0), (e1, n1) = section.line
    return (
        f"Section {section.name}-{section.name}': {section.title}, bearing {section.bearing:.1f}°, "
        f"from N {n0:,.1f}, E {e0:,.1f} to N {n1:,.1f}, E {e1:,.1f}"
    )


def faces(section: Section, run: float) -> list[tuple[float, float, str]]:
    """Side slopes that the section crosses about square: start, end, and run to rise.

    A face that it crosses aslant looks flatter than it is, and is not labelled.
    """
    found = []
    for low, high in section.toe:
        inside = [s for s in section.shoulder if low - 1e-6 <= s[0] and s[1] <= high + 1e-6]
        if not inside:
            continue
        for start, end in ((low, inside[0][0]), (inside[-1][1], high)):
            rise = abs(section.at("finished", end) - section.at("finished", start))
            if rise > 1e-3 and abs((end - start) / rise / run - 1.0) < _ASLANT:
                found.append((start, end, f"{run:g}:1"))
    return found


def spread(places: Sequence[float], gap: float) -> list[float]:
    """Heights, given from the top down, moved as little as keeps them ``gap`` apart.

    Clusters of labels that would touch are centred on what they name.
    """
    clusters: list[list[float]] = []
    for place in places:
        clusters.append([place])
        while len(clusters) > 1 and _bottom(clusters[-2], gap) - _top(clusters[-1], gap) < gap:
            last = clusters.pop()
            clusters[-1] += last
    return [_top(cluster, gap) - gap * i for cluster in clusters for i in range(len(cluster))]


def _top(cluster: Sequence[float], gap: float) -> float:
    return sum(cluster) / len(cluster) + 0.5 * gap * (len(cluster) - 1)


def _bottom(cluster: Sequence[float], gap: float) -> float:
    return sum(cluster) / len(cluster) - 0.5 * gap * (len(cluster) - 1)


@dataclass(frozen=True)
class Link:
    """One length of the chain of dimensions from toe to toe.

    Attributes
    ----------
    start, end : float
        Stations [site unit].
    length : float
        As it is written: rounded so that the links of a chain sum to its whole.
    what : str
        ``slope``, ``shoulder``, ``tubing`` or ``kept``, a keepout between two toes.
    """

    start: float
    end: float
    length: float
    what: str


def chain(section: Section, places: int) -> tuple[Link, ...]:
    """The lengths from the first toe to the last, one after the other.

    Parameters
    ----------
    section : Section
    places : int
        Decimals that lengths are written with.

    Returns
    -------
    tuple of Link
        Lengths are rounded; the longest slope takes up what rounding leaves, so that they sum to
        the rounded whole.
    """
    toes = section.toe or section.shoulder
    if not toes:
        return ()
    first, last = toes[0][0], toes[-1][1]
    ends = {first, last}
    for stretches in (toes, section.shoulder, section.tubing):
        ends |= {place for stretch in stretches for place in stretch if first < place < last}
    stations = sorted(ends)
    kept = [stations[0]]
    for station in stations[1:]:
        if station - kept[-1] > 0.5 * 10.0**-places:
            kept.append(station)
    kept[-1] = last
    links = [
        Link(a, b, round(b - a, places), _between(section, 0.5 * (a + b)))
        for a, b in pairwise(kept)
    ]
    left = round(last - first, places) - sum(link.length for link in links)
    slopes = [link for link in links if link.what == "slope"] or links
    longest = links.index(max(slopes, key=lambda link: link.length))
    links[longest] = replace(links[longest], length=round(links[longest].length + left, places))
    return tuple(links)


def _between(section: Section, station: float) -> str:
    for stretches, what in ((section.tubing, "tubing"), (section.shoulder, "shoulder")):
        if any(low <= station <= high for low, high in stretches):
            return what
    return "slope" if any(low <= station <= high for low, high in section.toe) else "kept"


def marked_heights(section: Section) -> list[tuple[float, float, str]]:
    """Stations of toes and shoulders in order, with the finished grade's elevation and a word."""
    found: dict[float, str] = {}
    for stretches, word in ((section.toe, "toe"), (section.shoulder, "shoulder")):
        for station in (place for stretch in stretches for place in stretch):
            near = [other for other in found if abs(other - station) < _SAME]
            if near:
                found[near[0]] = "toe and shoulder"
            else:
                found[station] = word
    heights = []
    for station, word in sorted(found.items()):
        z = section.at("finished", station)
        heights.append((station, section.at("ground", station) if z != z else z, word))
    return heights
