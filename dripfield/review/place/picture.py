"""Placing a picture of a plan by common points, each with what is left over."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dripfield.core.errors import input_error
from dripfield.core.similarity import fit_similarity
from dripfield.design.model import Design
from dripfield.review.model.plan import Plan
from dripfield.review.place.register import Pairs, Placement

_OFF = 0.02  # of the bed's size: common points that disagree by more are wrong


def place_picture(plan: Plan, design: Design, common: Pairs | None) -> tuple[Plan, Placement]:
    """Lay a picture on the site.

    Parameters
    ----------
    plan : Plan
        With a picture.
    design : Design
    common : mapping or None
        Name to the point's place on the picture and on the site. A picture's pixels are counted
        to the right and down from its upper left corner, a page's inches (millimetres) to the right
        and up from its lower left.

    Returns
    -------
    plan : Plan
    placement : Placement
        With what is left over at each point.

    Raises
    ------
    InputError
        No common points, points at one place, or points that disagree.
    """
    picture = plan.picture
    assert picture is not None
    if common is None:
        raise input_error(
            "a picture lies nowhere by itself",
            "give two or more common points with --common",
            file=plan.source,
        )
    names = list(common)
    source = np.array([common[name][0] for name in names], dtype=np.float64)
    if picture.page is None:
        source[:, 1] = picture.size[1] - source[:, 1]
    target = np.array([common[name][1] for name in names], dtype=np.float64)
    if np.ptp(source, axis=0).max() == 0.0 or np.ptp(target, axis=0).max() == 0.0:
        raise input_error(
            "the common points stand at one place", "give two that are far apart", file=plan.source
        )
    move = fit_similarity(source, target)
    gap = np.hypot(*(move.apply(source) - target).T)
    unit, places = design.site.unit.short, design.site.unit.places
    x0, y0, x1, y1 = design.site.bed.boundary.bounds
    worst = int(gap.argmax())
    if gap[worst] > _OFF * max(x1 - x0, y1 - y0):
        raise input_error(
            f"the {len(names)} common points disagree: {names[worst]!r} is off by "
            f"{gap[worst]:.{places}f} {unit} when the others fit best",
            "check its name and place",
            file=plan.source,
        )
    left = ", ".join(f"{name} {off:.{places}f}" for name, off in zip(names, gap, strict=True))
    notes = [f"the picture was placed by {len(names)} common points; left over ({unit}): {left}"]
    if len(names) == 2:
        notes.append("two common points leave nothing over: a third would check them")
    placed = replace(plan, picture=replace(picture, move=move))
    return placed, Placement(move, float(gap[worst]), tuple(notes))
