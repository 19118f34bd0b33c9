"""The page for the phone: one HTML file that needs nothing else, with the plan as SVG.

The page's policy allows only its own style and script, by their hashes, and no request at all.
Every name goes through ``html.escape`` here, or through ``textContent`` in the page.
"""

from __future__ import annotations

import base64
import hashlib
import json
import math
import re
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from dripfield.core.arrays import Floats
from dripfield.core.cautions import cautions
from dripfield.core.feet_inches import decimal, feet_inches
from dripfield.core.lines import leg_lengths
from dripfield.core.units import Unit
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.lateral_table import LateralRow
from dripfield.sheets.crew.words import setup_words
from dripfield.sheets.kit.html_table import html_text
from dripfield.staking.marking import Marking

_SPACE_AROUND = 2.0  # spacings left free round the bed
_NAME_SIZE = 0.6  # height of a lateral's name on the plan, in spacings


def write_phone_page(path: Path, work: CrewWork) -> None:
    """Write ``phone.html``."""
    path.write_text(phone_page(work), encoding="utf-8")


def phone_page(work: CrewWork) -> str:
    """The page as text; the same for the same site on every machine."""
    unit, settings = work.design.site.unit, work.settings
    mark = settings.benchmark
    page = files("dripfield.sheets.crew") / "page"
    plan, shape = _plan(work)
    style = (page / "phone.css").read_text(encoding="utf-8")
    style += f"#plan {{ --shape: {shape:.4f}; }}\n"
    script = (page / "phone.js").read_text(encoding="utf-8")
    data = _data(work)
    # ticks are kept under a name that changes with the layout: old ticks never fit a new one
    content = json.dumps(data, sort_keys=True) + plan
    data["key"] = f"dripfield:{hashlib.sha256(content.encode()).hexdigest()[:24]}"
    values = {
        "style_hash": _policy_hash(style),
        "script_hash": _policy_hash(script),
        "title": html_text(work.design.site.name),
        "site": html_text(work.design.site.name),
        "unit": html_text(unit.label),
        "style": style,
        "script": script,
        "mark_name": html_text(_mark_name(work)),
        "mark": "" if mark is None else _full(mark.elevation, unit),
        "backsight": "" if settings.backsight is None else decimal(settings.backsight, unit),
        "inputmode": "decimal" if unit.is_metric else "text",
        "entry_help": _entry_help(unit),
        "restart": ""
        if mark is None
        else '<button type="button" id="restart">Back to the benchmark</button>',
        "setups": _setups(work),
        "plan": plan,
        "rows": "\n".join(
            _row(row, laid, unit) for row, laid in zip(work.laterals, work.marking, strict=True)
        ),
        "tolerance": f"{decimal(work.design.site.settings.level_tolerance, unit)} {unit.short}",
        "cautions": "".join(f"<li>{html_text(text)}</li>" for text in cautions()),
        "data": _json(data),
    }
    template = (page / "phone.html").read_text(encoding="utf-8")
    return re.sub(r"@([a-z_]+)@", lambda match: values[match[1]], template)


def _json(value: Any) -> str:
    """JSON that cannot end the element it stands in."""
    text = json.dumps(value, ensure_ascii=True, sort_keys=True)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _policy_hash(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
    return f"sha256-{digest}"


def _full(elevation: float, unit: Unit) -> str:
    """With the usual decimals, or as many more as the benchmark was given with."""
    return max(decimal(elevation, unit), f"{elevation:.6f}".rstrip("0"), key=len)


def _mark_name(work: CrewWork) -> str:
    return "the benchmark" if work.settings.benchmark is None else work.settings.benchmark.name


def _entry_help(unit: Unit) -> str:
    if unit.is_metric:
        return "Metres, as 1.524."
    return "Decimal feet as 5.36, or feet, inches and eighths as 5&#39; 4 3/8&quot; or 5 4 3/8."


def _data(work: CrewWork) -> dict[str, Any]:
    unit = work.design.site.unit
    return {
        "site": work.design.site.name,
        "metric": unit.is_metric,
        "places": unit.places,
        "tolerance": work.design.site.settings.level_tolerance,
        "rod": work.settings.rod_length,
        "nameSize": _NAME_SIZE * work.design.site.settings.spacing,
        "markName": _mark_name(work),
        "laterals": [
            {
                "name": row.name,
                "elevation": round(row.elevation, unit.places + 1),
                "facts": _facts(work, row, laid),
            }
            for row, laid in zip(work.laterals, work.marking, strict=True)
        ],
    }


def _facts(work: CrewWork, row: LateralRow, laid: Marking) -> list[tuple[str, str]]:
    """What the box under the plan says of a lateral, as term and text."""
    unit = work.design.site.unit
    facts = [
        ("Elevation", f"{decimal(row.elevation, unit)} {unit.short}"),
        ("Length", f"{decimal(row.length, unit)} {unit.short}"),
        ("First leg", f"bearing {row.bearing:.1f}\N{DEGREE SIGN} from grid north"),
    ]
    if not math.isnan(row.drop):
        inches = "" if unit.is_metric else f" ({feet_inches(row.drop)})"
        facts.append(("Drop", f"{decimal(row.drop, unit)} {unit.short}{inches}"))
    if row.emitters is not None:
        facts.append(("Emitters", str(row.emitters)))
    facts.append((laid.lay.capitalize(), f"{laid.flags} marks"))
    if row.mark:
        missed = {"L": "level", "S": "spacing"}
        facts.append(("Misses", " and ".join(missed[letter] for letter in row.mark.split())))
    return facts


def _setups(work: CrewWork) -> str:
    """The planned set-ups as a list, when there is more than one."""
    if len(work.setups) < 2:
        return ""
    items = "".join(f"<li>{html_text(words)}</li>" for words in setup_words(work))
    return f'<p class="small">Planned set-ups:</p><ul class="small">{items}</ul>'


def _row(row: LateralRow, laid: Marking, unit: Unit) -> str:
    name = html_text(row.name)
    drop = "" if math.isnan(row.drop) else decimal(row.drop, unit)
    rod = "" if math.isnan(row.rod) else decimal(row.rod, unit)
    inches = "" if unit.is_metric or not rod else feet_inches(row.rod)
    reading = f'<span class="rod">{rod}</span><span class="inches">{escape(inches)}</span>'
    return (
        f'<tr><td><button type="button" class="tick" aria-pressed="false">'
        f'<span class="visually-hidden">staked {name}</span></button></td>'
        f'<th scope="row"><button type="button" class="choose" aria-pressed="false">'
        f"<bdi>{name}</bdi></button></th>"
        f'<td class="reading">{reading if rod else ""}</td>'
        f"<td>{decimal(row.elevation, unit)}</td><td>{drop}</td>"
        f"<td>{decimal(row.length, unit)}</td><td>{laid.lay}</td><td>{row.mark}</td></tr>"
    )


def _plan(work: CrewWork) -> tuple[str, float]:
    """The plan as SVG, north up, one user unit to a site unit; and its height over its width."""
    left, low, right, high = work.design.site.bed.boundary.bounds
    spacing = work.design.site.settings.spacing
    edge = _SPACE_AROUND * spacing
    corner = np.array((left - edge, high + edge))
    size = (right - left + 2 * edge, high - low + 2 * edge)

    def place(xy: Floats) -> Floats:
        return np.asarray((np.asarray(xy) - corner) * (1.0, -1.0))

    def path(xy: Floats) -> str:
        return " ".join(f"{x:.3f},{y:.3f}" for x, y in place(xy))

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size[0]:.3f} {size[1]:.3f}"'
        f' role="img" tabindex="0" aria-label="Plan of {len(work.laterals)} laterals, north up.'
        f' Arrow keys move it, plus and minus zoom. The table below has the same laterals.">'
    ]
    boundary = shapely.get_coordinates(work.design.site.bed.boundary.exterior)
    parts.append(f'<polygon class="bed" points="{path(boundary)}"/>')
    for keepout in work.design.site.bed.keepouts:
        ring = shapely.get_coordinates(keepout.exterior)
        parts.append(f'<polygon class="keepout" points="{path(ring)}"/>')
    names = []
    for lateral in work.design.layout.laterals:
        xy = np.array([(s.easting, s.northing) for s in work.stakes if s.lateral == lateral.name])
        parts.append(f'<polyline class="lateral" points="{path(xy)}"/>')
        (x, y), angle = _middle(place(xy))
        names.append(
            f'<text class="name" x="{x:.3f}" y="{y:.3f}" font-size="{_NAME_SIZE * spacing:g}"'
            f' transform="rotate({angle:.1f} {x:.3f} {y:.3f})">{html_text(lateral.name)}</text>'
        )
    radius = 0.12 * spacing
    stakes = place(np.array([(s.easting, s.northing) for s in work.stakes]))
    parts += [
        f'<circle class="stake" cx="{x:.3f}" cy="{y:.3f}" r="{radius:g}"/>' for x, y in stakes
    ]
    parts += names
    x, y, tall = size[0] - 0.8 * edge, 0.1 * edge, 0.8 * edge
    parts.append(
        f'<path class="lateral-north" d="M{x:.3f} {y + tall:.3f}V{y:.3f}l{-0.15 * edge:.3f}'
        f' {0.3 * edge:.3f}h{0.3 * edge:.3f}l{-0.15 * edge:.3f} {-0.3 * edge:.3f}" fill="#000"'
        f' stroke="#000" stroke-width="{0.03 * edge:.3f}"/>'
        f'<text class="name north" x="{x + 0.4 * edge:.3f}" y="{y + 0.5 * edge:.3f}"'
        f' font-size="{0.6 * edge:.3f}">N</text></svg>'
    )
    return "".join(parts), size[1] / size[0]


def _middle(xy: Floats) -> tuple[Floats, float]:
    """The point half way along a line and the direction there, turned so that text reads."""
    step = leg_lengths(xy)
    along = np.concatenate(([0.0], np.cumsum(step)))
    half = 0.5 * along[-1]
    at = int(np.clip(np.searchsorted(along, half) - 1, 0, len(step) - 1))
    share = (half - along[at]) / step[at]
    angle = math.degrees(math.atan2(*(xy[at + 1] - xy[at])[::-1]))
    if not -90.0 < angle <= 90.0:
        angle -= math.copysign(180.0, angle)
    return xy[at] * (1 - share) + xy[at + 1] * share, angle
