"""An accepted layout: laid as it is, or what is not laid yet laid anew round what is.

When the bed has changed since (rock was hit and is a keepout now), laterals that are locked stay as
they are. The others are laid again in two ways: the accepted lines cut where the bed no longer
allows them, and the room that is left laid out afresh. What measures better is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from difflib import get_close_matches

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from dripfield.core.errors import InputError, input_error
from dripfield.core.lines import line_length
from dripfield.core.words import counted, first_few
from dripfield.design.layout_file import layout_from, read_record
from dripfield.layout.model import Lateral, Layout
from dripfield.site.model import LayoutSettings, Site
from dripfield.site.reader import inside

_SAME = 1e-6  # of the spacing: a lateral that leaves its area by less only touches the edge
_MOST_NAMES = 8  # of laterals named in a note

Judge = Callable[[Layout], float]
"""Merit of a layout."""


def accepted_layout(site: Site, area: BaseGeometry) -> Layout:
    """The accepted layout of a site.

    Parameters
    ----------
    site : Site
        Its settings name the file.
    area : Polygon or MultiPolygon
        Where a lateral may lie now.

    Returns
    -------
    Layout
        As it was written; a note says so, and names laterals that leave the area now.

    Raises
    ------
    InputError
        As :func:`dripfield.design.layout_file.read_record`.
    """
    name = str(site.settings.accepted)
    field = "[layout] accepted"
    record = read_record(inside(site.folder, name, field), site.unit.value, field)
    layout = layout_from(record, area)
    code = f" ({record.code})" if record.code else ""
    return replace(layout, notes=(f"laid as accepted in {name}{code}, not laid out anew",))


def left_by(laterals: Sequence[Lateral], area: BaseGeometry, spacing: float) -> list[str]:
    """Names of the laterals that leave an area.

    Parameters
    ----------
    laterals : sequence of Lateral
    area : Polygon or MultiPolygon
    spacing : float
        On-centre distance, of which a millionth is no departure [site unit].

    Returns
    -------
    list of str
    """
    grown = area.buffer(_SAME * spacing)
    shapely.prepare(grown)
    return [one.name for one in laterals if not grown.covers(shapely.linestrings(one.xy))]


def laid_round(
    accepted: Layout,
    settings: LayoutSettings,
    afresh: Callable[[BaseGeometry], Layout | None],
    judge: Judge,
    short: str,
) -> Layout:
    """The accepted layout with its locked laterals, the rest laid anew.

    Parameters
    ----------
    accepted : Layout
        Its ``area`` is where a lateral may lie now.
    settings : LayoutSettings
        ``locked`` names the laterals that are laid.
    afresh : callable
        A layout of a part of the area; None where nothing fits.
    judge : callable
        Merit of a whole layout.
    short : str
        The site's unit, for notes.

    Returns
    -------
    Layout
        Locked laterals keep name, place and elevation. Notes say what is lost and what locked
        laterals leave the area now.

    Raises
    ------
    InputError
        A locked name is not in the accepted layout.
    """
    check_names(settings.locked, accepted, "[layout] locked")
    locked = [one for one in accepted.laterals if one.name in settings.locked]
    loose = [one for one in accepted.laterals if one.name not in settings.locked]
    cut = _renamed(accepted, locked, _cut(loose, accepted.area, settings))
    choices = [cut]
    near = settings.spacing * (1.0 - 0.5 * settings.spacing_tolerance)
    taken = shapely.union_all([shapely.linestrings(one.xy) for one in locked])
    room = accepted.area.difference(shapely.buffer(taken, near, quad_segs=8))
    if left_by(loose, accepted.area, settings.spacing) and not room.is_empty:
        laid = afresh(room)
        if laid is not None:
            choices.append(_renamed(accepted, locked, list(laid.laterals)))
    merits = [judge(one) for one in choices]
    best = choices[int(np.argmax(np.round(merits, 4)))]
    return replace(best, notes=_relaid_notes(accepted, best, locked, settings, short))


def without_dropped(layout: Layout, names: Sequence[str], short: str) -> Layout:
    """A layout less the laterals that the site file drops; the others keep their names.

    Parameters
    ----------
    layout : Layout
    names : sequence of str
    short : str
        The site's unit, for the note.

    Returns
    -------
    Layout

    Raises
    ------
    InputError
        No lateral has such a name.
    """
    if not names:
        return layout
    check_names(names, layout, "[layout] dropped")
    dropped = [one for one in layout.laterals if one.name in names]
    length = sum(line_length(one.xy) for one in dropped)
    note = (
        f"dropped by [layout] dropped: {', '.join(one.name for one in dropped)}, {length:,.1f} "
        f"{short} of tubing"
    )
    kept = tuple(one for one in layout.laterals if one.name not in names)
    return replace(layout, laterals=kept, notes=(*layout.notes, note))


def check_names(names: Sequence[str], layout: Layout, field: str) -> None:
    """Refuse names that no lateral of a layout has.

    Parameters
    ----------
    names : sequence of str
    layout : Layout
    field : str
        Key of ``site.toml`` that gives them.

    Raises
    ------
    InputError
        Naming the closest lateral.
    """
    known = [one.name for one in layout.laterals]
    for name in names:
        if name not in known:
            raise _unknown(name, known, field)


def _unknown(name: str, known: list[str], field: str) -> InputError:
    near = get_close_matches(name, known, 1, 0.0)
    return input_error(
        f"there is no lateral {name!r}",
        f"the closest is {near[0]!r}; laterals.csv lists them" if near else "none is laid",
        file="site.toml",
        field=field,
    )


def _cut(loose: Sequence[Lateral], area: BaseGeometry, settings: LayoutSettings) -> list[Lateral]:
    """Laterals cut off where they leave an area, pieces too short left out; the longest piece of
    each first."""
    cut: list[Lateral] = []
    grown = area.buffer(_SAME * settings.spacing)
    for one in loose:
        line = shapely.linestrings(one.xy)
        if grown.covers(line):
            cut.append(one)
            continue
        parts = shapely.get_parts(shapely.line_merge(area.intersection(line)))
        long = [
            part
            for part in parts
            if part.geom_type == "LineString" and part.length >= settings.min_length
        ]
        for part in sorted(long, key=lambda part: -part.length):
            cut.append(replace(one, xy=_directed(shapely.get_coordinates(part), one)))
    return cut


def _directed(xy: np.ndarray, like: Lateral) -> np.ndarray:
    """A piece of a lateral in the lateral's own direction."""
    line = shapely.linestrings(like.xy)
    ends = shapely.line_locate_point(line, shapely.points(xy[[0, -1]]))
    return xy if ends[1] >= ends[0] else xy[::-1]


def _renamed(accepted: Layout, locked: Sequence[Lateral], rest: Sequence[Lateral]) -> Layout:
    """Locked laterals and the rest, panel by panel from the highest down; names that are locked or
    used already give way to the next free number of the panel."""
    taken = {one.name for one in accepted.laterals}
    used = {one.name for one in locked}
    named: list[Lateral] = list(locked)
    known = {one.panel for one in accepted.laterals}
    first = min(known)
    for one in rest:
        panel = one.panel if one.panel in known else first
        name = one.name
        if name in used or (name not in taken) or panel != one.panel:
            prefix = f"{panel}-" if len(known) > 1 else ""
            number = 1
            while f"{prefix}L{number:02d}" in used | taken:
                number += 1
            name = f"{prefix}L{number:02d}"
        used.add(name)
        named.append(replace(one, name=name, panel=panel))
    named.sort(key=lambda one: (one.panel, -round(one.elevation, 6), float(one.xy[:, 0].mean())))
    return replace(accepted, laterals=tuple(named))


def _relaid_notes(
    accepted: Layout,
    now: Layout,
    locked: Sequence[Lateral],
    settings: LayoutSettings,
    short: str,
) -> tuple[str, ...]:
    """What stays, what is lost, what locked laterals are in the way."""
    before = sum(line_length(one.xy) for one in accepted.laterals)
    after = sum(line_length(one.xy) for one in now.laterals)
    old = {one.name: line_length(one.xy) for one in accepted.laterals}
    new = {one.name: line_length(one.xy) for one in now.laterals}
    changed = [name for name in old if abs(new.get(name, 0.0) - old[name]) > 0.01]
    notes = [
        f"{counted(len(locked), 'lateral')} of {settings.accepted} kept as laid, the rest laid "
        f"anew: {after:,.1f} {short} of tubing against {before:,.1f} {short} accepted, "
        + (f"{before - after:,.1f} {short} lost" if after < before else "none lost")
    ]
    if changed:
        shown = [
            f"{name} {new[name] - old[name]:+,.1f}" if name in new else f"{name} gone"
            for name in changed[:_MOST_NAMES]
        ]
        more = f" and {len(changed) - _MOST_NAMES} more" if len(changed) > _MOST_NAMES else ""
        notes.append(f"changed against {settings.accepted}: {', '.join(shown)}{more}")
    return (*notes, *leaving_note(locked, now.area, settings))


def leaving_note(
    laterals: Sequence[Lateral], area: BaseGeometry, settings: LayoutSettings
) -> tuple[str, ...]:
    """A note that names laterals which leave the bed as it is now; none where none does.

    Parameters
    ----------
    laterals : sequence of Lateral
    area : Polygon or MultiPolygon
        Where a lateral may lie now.
    settings : LayoutSettings

    Returns
    -------
    tuple of str
    """
    outside = left_by(laterals, area, settings.spacing)
    if not outside:
        return ()
    return (
        f"{first_few(outside, _MOST_NAMES)} leave the bed as it is now (keepouts, setbacks, "
        "clearance): name what is laid in locked under [layout] and the rest is laid round it",
    )
