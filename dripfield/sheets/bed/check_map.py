"""Map of the raked bed: highs and lows in hundredths, where to rake, and whether it passes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from dripfield.bed.check import BedCheck
from dripfield.bed.check_verdict import shown_over
from dripfield.bed.materials import usual_volume, usual_volume_name
from dripfield.core.arrays import Floats
from dripfield.core.units import Unit
from dripfield.core.verdict import Verdict
from dripfield.layout.model import Layout
from dripfield.sheets.bed.side_panel import Line, write_panel
from dripfield.sheets.kit.blank import map_sheet
from dripfield.sheets.kit.furniture import STRIP_HEIGHT, legend, patch, stroke
from dripfield.sheets.kit.labels import Label, Placer
from dripfield.sheets.kit.map_frame import MapFrame
from dripfield.sheets.kit.plan_map import Pen
from dripfield.sheets.kit.style import (
    DIM,
    INK,
    PALE,
    PAPER_WHITE,
    PENS,
    WASH,
    save_figure,
    text_width,
)
from dripfield.site.model import Site

HIGH_HATCH = "////"
_SIZE = 7.0
_WORK = {"stripped": "stripped ground", "sand": "top of sand", "finished": "finished grade"}


def write_check_map(
    path: Path, site: Site, check: BedCheck, verdict: Verdict, layout: Layout | None
) -> None:
    """Draw the map and write the verdict beside it.

    Parameters
    ----------
    path : Path
    site : Site
    check : BedCheck
    verdict : Verdict
    layout : Layout, optional
        Laterals that would not lie level are drawn.
    """
    figure, axes, frame, paper, key_left = map_sheet(site, check.area)
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
    _draw_wanted(pen, frame, verdict)
    _legend(axes, frame, site.unit, key_left + 18.0)
    write_panel(
        axes,
        paper,
        site.name,
        f"Check of the {_WORK[check.level]} against the design, {check.shots.source.name}",
        (
            (verdict.word.capitalize(), reasons_in_words(verdict)),
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


def reasons_in_words(verdict: Verdict) -> list[Line]:
    """The reasons as sentences, and how many more places want a shot."""
    lines: list[Line] = [f"{text[:1].upper()}{text[1:]}" for text in verdict.reasons]
    lines = [text if str(text).endswith("?") else f"{text}." for text in lines]
    if verdict.measure_more:
        many = len(verdict.measure_more)
        lines.append(f"Shoot {many} more place{'s' if many > 1 else ''}, drawn as crosses.")
    return lines


def figures(check: BedCheck, unit: Unit) -> list[Line]:
    """Count, worst, mean, root mean square, share within, cover of the bed."""
    short, places = unit.short, unit.places
    outside = len(check.inside) - int(check.inside.sum())
    lines: list[Line] = [
        ("shots in the bed", f"{int(check.inside.sum())}"),
        ("places, each shot once", f"{len(check.places.xyz)}"),
        ("within tolerance", f"{np.floor(1000.0 * check.share_within) / 10.0:.1f} %"),
        *_worst(check, unit),
        ("root mean square", f"{check.rms:.{places + 1}f} {short}"),
        ("mean, high is +", f"{check.mean:+.{places + 1}f} {short}"),
        ("bed between shots", f"{100.0 * check.covered:.0f} %"),
        (
            f"within {check.enough.reach:g} {short} of a shot",
            f"{np.floor(100.0 * check.cover.within_reach):.0f} %",
        ),
        ("widest gap, from a shot", f"{check.cover.widest_gap:.1f} {short}"),
        ("area a shot", f"{check.cover.area_a_shot:.0f} {short}2"),
    ]
    if outside:
        lines.append(("shots outside the bed, not judged", f"{outside}"))
    if check.cause is None and abs(check.mean) > 0.5 * check.tolerance:
        lines.append("The mean is off: suspect the benchmark or the backsight before raking.")
    return lines


def _worst(check: BedCheck, unit: Unit) -> list[Line]:
    if not len(check.places.xyz):
        return []
    worst = float(check.place_difference[check.worst_place])
    size = shown_over(abs(worst), check.tolerance, unit.places)
    return [("worst", f"{'+' if worst >= 0 else '-'}{size} {unit.short}")]


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
    chords = [zone for zone in check.zones if zone.chord]
    if chords:
        names = ", ".join(zone.name for zone in chords)
        longest = max(zone.chord for zone in chords)
        lines.append(
            f"{names}: drawn by straight lines between shots up to {longest:.1f} {short} apart; "
            "shoot there before raking."
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


def _draw_wanted(pen: Pen, frame: MapFrame, verdict: Verdict) -> None:
    """Crosses where more shots are wanted."""
    places = np.array([(place.easting, place.northing) for place in verdict.measure_more])
    if len(places):
        at = frame.to_paper(places)
        pen.line(at, ls="none", marker="+", ms=6.0, mew=1.0, mec=INK, zorder=4)


def _name_zones(pen: Pen, placer: Placer, frame: MapFrame, check: BedCheck) -> None:
    for zone in check.zones:
        at = frame.to_paper(zone.worst_xy[None])[0]
        places = (
            (Label(zone.name, float(at[0] + x), float(at[1] + y), 0.0, 7.5, bold=True),)
            for x, y in ((0.0, 12.0), (0.0, -12.0), (14.0, 8.0), (-14.0, 8.0), (14.0, -8.0))
        )
        pen.words(placer.first(places), over=7.0)


def _legend(axes: Any, frame: MapFrame, unit: Unit, left: float) -> None:
    what = "in mm" if unit.is_metric else "in 0.01 ft"
    look: dict[str, Any] = {"ls": "none", "mec": INK, "mew": 0.6}
    entries = (
        (f"high, {what}", stroke(marker="o", ms=3.0, mfc=INK, **look)),
        (f"low, {what}", stroke(marker="o", ms=3.0, mfc=PAPER_WHITE, **look)),
        ("out of tolerance", stroke(marker="s", ms=4.0, mfc=PAPER_WHITE, **look)),
        ("shoot here too", stroke(marker="+", ms=5.0, **look)),
        ("zone to rake off", patch(DIM, HIGH_HATCH)),
        ("zone to fill", patch(DIM, face=WASH)),
    )
    legend(axes, entries, (left, frame.low - STRIP_HEIGHT, frame.left + frame.width, frame.low))
