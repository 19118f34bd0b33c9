"""What a map says of the ground: elevations of level lines, arrows down the slope."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from dripfield.core.arrays import Floats
from dripfield.ground.levels.lines import clip_lines
from dripfield.sheets.kit.labels import Label, Placer, along_line
from dripfield.sheets.kit.pen import Pen
from dripfield.sheets.kit.relief import Relief
from dripfield.sheets.kit.style import DIM, PAPER_WHITE, POINTS_PER_INCH
from dripfield.site.model import Site

_LEVEL_SHARES = (0.1, 0.9, 0.05, 0.95, 0.2, 0.8, 0.3, 0.7, 0.4, 0.6, 0.5)


def label_levels(pen: Pen, placer: Placer, relief: Relief) -> None:
    """The elevation on each long piece of a major level line, best outside the bed.

    Parameters
    ----------
    pen : Pen
    placer : Placer
        Labels are taken from it.
    relief : Relief
    """
    frame = pen.frame
    shown = clip_lines(relief.levels, frame.ground)
    majors = [line for line in shown if line.major] or shown
    for line in majors:
        points = frame.to_paper(line.xy)
        places = along_line(points, (f"{line.elevation:g}",), 7.0 * pen.type_scale, _LEVEL_SHARES)
        pen.words(placer.first(places), over=7.0, colour=DIM)


def draw_falls(pen: Pen, placer: Placer, site: Site, relief: Relief) -> None:
    """Arrows down the slope with its percentage, a few across the bed.

    Parameters
    ----------
    pen : Pen
    placer : Placer
        Arrows and figures are taken from it.
    site : Site
    relief : Relief
    """
    frame = pen.frame
    left, low, right, high = site.bed.boundary.bounds
    across = 3 if frame.scale.paper(right - left) > 2.0 * POINTS_PER_INCH else 1
    down = 2 if frame.scale.paper(high - low) > 2.0 * POINTS_PER_INCH else 1
    steps = (0.5, 0.3, 0.7, 0.15, 0.85)
    for i in range(across):
        for j in range(down):
            trial = np.array(
                [
                    (
                        left + (i + u) / across * (right - left),
                        low + (j + v) / down * (high - low),
                    )
                    for u in steps
                    for v in steps
                ]
            )
            trial = trial[shapely.contains_xy(site.bed.boundary, trial)]
            _draw_fall(pen, placer, site, relief, trial)


def _draw_fall(pen: Pen, placer: Placer, site: Site, relief: Relief, trial: Floats) -> None:
    """One arrow at the first of several places where it is free."""
    if not len(trial):
        return
    frame = pen.frame
    bed = frame.shape(site.bed.boundary)
    rise = relief.surface.gradient(trial)
    steep = np.hypot(*rise.T)
    ends = frame.to_paper(trial - rise)
    starts = frame.to_paper(trial)
    for start, end, slope in zip(starts, ends, steep, strict=True):
        if not np.isfinite(slope) or slope < 1e-4:
            continue
        down = (end - start) / np.hypot(*(end - start))
        tail, head = start - 11.0 * down, start + 11.0 * down
        side = np.array((-down[1], down[0]))
        text = f"{slope:.0%}" if slope >= 0.0995 else f"{slope:.1%}"
        place = head + 7.0 * pen.type_scale * down
        label = Label(text, place[0], place[1], 0.0, 7.0 * pen.type_scale)
        shaft = Polygon([tail + 3 * side, head + 3 * side, head - 3 * side, tail - 3 * side])
        spots = (shaft, label.box)
        if not bed.contains(shaft) or not all(placer.free(one, over_lines=True) for one in spots):
            continue
        placer.take(shaft)
        placer.take(label.box)
        for width, colour, over in ((3.6, PAPER_WHITE, 6.0), (1.3, DIM, 6.1)):
            pen.axes.annotate(
                "",
                xy=tuple(head),
                xytext=tuple(tail),
                arrowprops={
                    "arrowstyle": "-|>,head_width=0.18,head_length=0.36",
                    "shrinkA": 0.0,
                    "shrinkB": 0.0,
                    "lw": width,
                    "color": colour,
                    "mutation_scale": 14.0,
                },
                zorder=over,
            )
        label.draw(pen.axes, over=6.2, colour=DIM)
        return
