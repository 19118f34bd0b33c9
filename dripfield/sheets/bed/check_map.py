"""Map of the raked bed: highs and lows in hundredths, where to rake, and whether it passes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.bed.check import BedCheck
from dripfield.bed.materials import usual_volume, usual_volume_name
from dripfield.core.arrays import Floats
from dripfield.core.units import Unit
from dripfield.layout.model import Layout
from dripfield.sheets.bed.side_panel import Line, write_panel
from dripfield.sheets.kit.blank import map_sheet
from dripfield.sheets.kit.labels import Label, Placer
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.plan_map import Pen
from dripfield.sheets.kit.plan_margin import STRIP_HEIGHT
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    PALE,
    PAPER_WHITE,
    PENS,
    WASH,
    save_figure,
    text_width,
    write_text,
)
from dripfield.site.model import Site

HIGH_HATCH = "////"
_SIZE = 6.0
_WORK = {"stripped": "stripped ground", "sand": "top of sand", "finished": "finished grade"}


def write_check_map(path: Path, site: Site, check: BedCheck, layout: Layout | None) -> None:
    """Draw the map and write the verdict beside it.

    Parameters
    ----------
    path : Path
    site : Site
    check : BedCheck
    layout : Layout, optional
        Laterals that would not lie level are drawn.
    """
    figure, axes, frame, paper, _ = map_sheet(site, check.area)
    pen = Pen(axes, frame)
    pen.area(frame.shape(check.area), fc="none", ec=INK, lw=PENS["medium"], zorder=3)
    pen.area(frame.shape(site.bed.boundary), fc="none", ec=INK, lw=PENS["bold"], zorder=3)
    for zone in check.zones:
        look = {"hatch": HIGH_HATCH} if zone.high else {"fc": WASH}
        pen.area(
            frame.shape(zone.area), **{"fc": "none", "ec": DIM, "lw": 0.5, "zorder": 1, **look}
        )
    placer = Placer(frame.window.buffer(-2.0))
    if layout is not None:
        _draw_unlevel(pen, frame, check, layout)
    _draw_shots(pen, placer, frame, check, site.unit)
    _name_zones(pen, placer, frame, check)
    _legend(axes, frame, site.unit)
    write_panel(
        axes,
        paper,
        site.name,
        f"Check of the {_WORK[check.level]} against the design, {check.shots.source.name}",
        (
            ("Pass" if check.passed else "Fail", [verdict(check, site.unit).capitalize()]),
            ("Shots", figures(check, site.unit)),
            ("Where to rake", zones_in_words(check, site.unit)),
            ("Laterals as raked", laterals_in_words(check, site)),
        ),
    )
    save_figure(figure, path)


def hundredths(difference: float, unit: Unit) -> str:
    """A difference as a crew says it: signed hundredths of a foot, or millimetres."""
    step = 1000.0 if unit.is_metric else 100.0
    return f"{round(difference * step):+d}".replace("+0", "0")


def verdict(check: BedCheck, unit: Unit) -> str:
    """Why it passes or fails, in one sentence."""
    count, out = int(check.inside.sum()), int((check.inside & ~check.ok).sum())
    tolerance = f"{check.tolerance:g} {unit.short}"
    worst = check.difference[check.worst]
    if not out:
        return f"all {count} shots lie within {tolerance} of the design."
    side = "high" if worst > 0 else "low"
    wanted = "" if check.share_wanted == 1.0 else f", {check.share_wanted:.0%} must"
    return (
        f"{count - out} of {count} shots lie within {tolerance} of the design{wanted}; the worst, "
        f"{check.shots.names[check.worst]}, is {abs(worst):.{unit.places}f} {unit.short} {side}."
    )


def figures(check: BedCheck, unit: Unit) -> list[Line]:
    """Count, worst, mean, root mean square, share within, cover of the bed."""
    short, places = unit.short, unit.places
    outside = len(check.inside) - int(check.inside.sum())
    lines: list[Line] = [
        ("shots in the bed", f"{int(check.inside.sum())}"),
        ("within tolerance", f"{np.floor(1000.0 * check.share_within) / 10.0:.1f} %"),
        ("worst", f"{check.difference[check.worst]:+.{places}f} {short}"),
        ("root mean square", f"{check.rms:.{places + 1}f} {short}"),
        ("mean, high is +", f"{check.mean:+.{places + 1}f} {short}"),
        ("bed between shots", f"{100.0 * check.covered:.0f} %"),
    ]
    if outside:
        lines.append(("shots outside the bed, not judged", f"{outside}"))
    if abs(check.mean) > 0.5 * check.tolerance:
        lines.append("The mean is off: suspect the benchmark or the backsight before raking.")
    return lines


def zones_in_words(check: BedCheck, unit: Unit) -> list[Line]:
    """Zones by the volume to move, with what to do and where."""
    if check.volume is None:
        return ["Too few shots to draw a surface between them."]
    if not check.zones:
        return ["Nowhere out of tolerance between the shots."]
    short = unit.short
    lines: list[Line] = [
        ("", "by", f"area {short}2", f"move {usual_volume_name(unit)}", "about N, E")
    ]
    for zone in check.zones:
        x, y = zone.worst_xy
        lines.append(
            (
                f"{zone.name} {'rake off' if zone.high else 'fill'}",
                f"{zone.worst:+.{unit.places}f}",
                f"{zone.area.area:,.0f}",
                f"{usual_volume(zone.volume, unit):.2f}",
                f"{y:.0f}, {x:.0f}",
            )
        )
    name = usual_volume_name(unit)
    cut, fill = usual_volume(check.volume.cut, unit), usual_volume(check.volume.fill, unit)
    lines.append(
        f"To the design all over: {cut:.2f} {name} to rake off, {fill:.2f} {name} to bring."
    )
    return lines


def laterals_in_words(check: BedCheck, site: Site) -> list[Line]:
    """Which laterals would not lie level as raked."""
    if not check.laterals:
        return ["Not judged."]
    unit = site.unit
    wrong = [one for one in check.laterals if not one.level_ok]
    total = len(check.laterals)
    lines: list[Line] = [
        f"{total - len(wrong)} of {total} would lie within {site.settings.level_tolerance:g} "
        f"{unit.short} of level."
    ]
    for one in wrong:
        if np.isnan(one.departure):
            lines.append((one.name, "no shots along it"))
        else:
            lines.append((one.name, f"off level by {one.departure:.{unit.places}f} {unit.short}"))
    sparse = [one.name for one in check.laterals if one.level_ok and one.covered < 0.9]
    if sparse:
        lines.append(f"Less than 90 % between shots: {', '.join(sparse)}.")
    return lines


def _draw_unlevel(pen: Pen, frame: MapFrame, check: BedCheck, layout: Layout) -> None:
    level = {one.name for one in check.laterals if one.level_ok}
    for lateral in layout.laterals:
        points = frame.to_paper(lateral.xy)
        if lateral.name in level:
            pen.line(points, lw=PENS["hair"], color=PALE, zorder=2)
        else:
            pen.line(points, lw=PENS["lateral"], ls=(0, (3, 1.5)), color=DIM, zorder=2)


def _draw_shots(pen: Pen, placer: Placer, frame: MapFrame, check: BedCheck, unit: Unit) -> None:
    """Each shot with its difference: filled where high, open where low, bold out of tolerance."""
    points = frame.to_paper(check.shots.xyz)
    order = np.argsort(-np.nan_to_num(np.abs(check.difference)), kind="stable")
    for number in order:
        at, difference = points[number], float(check.difference[number])
        if not check.inside[number]:
            pen.line(at[None], ls="none", marker="x", ms=3.0, mew=0.5, zorder=5)
            continue
        out = not check.ok[number]
        face = INK if difference > 0 else PAPER_WHITE
        pen.line(
            at[None], ls="none", marker="s" if out else "o", ms=3.6 if out else 2.2, mfc=face,
            mec=INK, mew=0.6, zorder=5,
        )  # fmt: skip
        pen.words(placer.first(_beside(at, hundredths(difference, unit), out)), over=6.0)


def _beside(at: Floats, text: str, bold: bool) -> Iterator[tuple[Label, ...]]:
    """Places for a figure round a shot."""
    aside = 4.0 + 0.5 * text_width(text, _SIZE, bold=bold)
    for x, y in (
        (aside, 0.0),
        (-aside, 0.0),
        (0.0, 6.5),
        (0.0, -6.5),
        (aside, 5.0),
        (-aside, -5.0),
    ):
        yield (Label(text, float(at[0] + x), float(at[1] + y), 0.0, _SIZE, bold),)


def _name_zones(pen: Pen, placer: Placer, frame: MapFrame, check: BedCheck) -> None:
    for zone in check.zones:
        at = frame.to_paper(zone.worst_xy[None])[0]
        places = (
            (Label(zone.name, float(at[0] + x), float(at[1] + y), 0.0, 7.5, bold=True),)
            for x, y in ((0.0, 12.0), (0.0, -12.0), (14.0, 8.0), (-14.0, 8.0), (14.0, -8.0))
        )
        pen.words(placer.first(places), over=7.0)


def _legend(axes: Any, frame: MapFrame, unit: Unit) -> None:
    what = "millimetres" if unit.is_metric else "hundredths of a foot"
    marks = (
        (f"high, {what}", {"marker": "o", "ms": 3.0, "mfc": INK}),
        (f"low, {what}", {"marker": "o", "ms": 3.0, "mfc": PAPER_WHITE}),
        ("out of tolerance", {"marker": "s", "ms": 4.0, "mfc": PAPER_WHITE}),
    )
    left = frame.left + 232.0
    for number, (text, look) in enumerate(marks):
        y = frame.low - 12.0 - number * 0.27 * STRIP_HEIGHT
        axes.plot((left,), (y,), ls="none", mec=INK, mew=0.6, **look)
        write_text(axes, left + 7.0, y - 2.3, text, 6.6)
    from matplotlib.patches import Rectangle

    patches: tuple[tuple[str, dict[str, Any]], ...] = (
        ("zone to rake off", {"hatch": HIGH_HATCH, "fc": PAPER_WHITE}),
        ("zone to fill", {"fc": WASH}),
    )
    for number, (text, look) in enumerate(patches):
        y = frame.low - 12.0 - number * 0.27 * STRIP_HEIGHT
        patch = Rectangle((left + 104.0, y - 3.0), width=14.0, height=6.0)
        patch.set(edgecolor=DIM, linewidth=0.5, **look)
        axes.add_patch(patch)
        write_text(axes, left + 122.0, y - 2.3, text, 6.6)
