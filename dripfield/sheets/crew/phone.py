"""The page for the phone: one HTML file that needs nothing else, with the plan as SVG.

The page's policy allows only its own style and script, by their hashes, and no request at all.
Every name goes through ``html.escape`` here, or through ``textContent`` in the page.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from importlib.resources import files
from pathlib import Path
from typing import Any

from dripfield.core.cautions import cautions
from dripfield.core.feet_inches import decimal
from dripfield.core.units import Unit
from dripfield.sheets.crew.gather import CrewWork
from dripfield.sheets.crew.phone_data import page_data
from dripfield.sheets.crew.phone_plan import fall_words, plan_svg, plan_words
from dripfield.sheets.crew.phone_words import say
from dripfield.sheets.crew.words import setup_words
from dripfield.sheets.kit.html_table import html_text

_SPOKEN = re.compile(r'data-say="([a-z_]+)"(?: hidden)?>')
_SCRIPTS = ("begin.js", "entry.js", "log.js", "plan.js", "phone.js")


def write_phone_page(path: Path, work: CrewWork) -> None:
    """Write ``phone.html``."""
    path.write_text(phone_page(work), encoding="utf-8")


def phone_page(work: CrewWork) -> str:
    """The page as text; the same for the same site on every machine."""
    unit, settings = work.design.site.unit, work.settings
    plan = work.field
    mark = settings.benchmark
    page = files("dripfield.sheets.crew") / "page"
    drawing, shape = plan_svg(work.design, plan)
    style = (page / "phone.css").read_text(encoding="utf-8")
    style += f"#plan {{ --shape: {shape:.4f}; }}\n"
    parts = [(page / name).read_text(encoding="utf-8") for name in _SCRIPTS]
    script = '"use strict";\n(() => {\n' + "\n".join(parts) + "})();\n"
    data = page_data(work, plan)
    # the log is kept under a name that changes with the marks: old ticks never fit new marks
    content = json.dumps([data["laterals"], data["mark"], data["site"]], sort_keys=True) + drawing
    data["key"] = f"dripfield:{hashlib.sha256(content.encode()).hexdigest()[:24]}"
    values = {
        "style_hash": _policy_hash(style),
        "script_hash": _policy_hash(script),
        "title": html_text(work.design.site.name),
        "site": html_text(work.design.site.name),
        "lengths": f"lengths_{'survey' if unit is Unit.SURVEY_FOOT else unit.short}",
        "style": style,
        "script": script,
        "mark_name": html_text(say("benchmark") if mark is None else mark.name),
        "mark": "" if mark is None else _full(mark.elevation, unit),
        "backsight": "" if settings.backsight is None else decimal(settings.backsight, unit),
        "inputmode": "decimal" if unit.is_metric else "text",
        "setups": _setups(work),
        "plan": drawing,
        "fall": fall_words(plan),
        "plan_words": plan_words(work.design, plan),
        "rows": "\n".join(_row(lateral, unit) for lateral in data["laterals"]),
        "cautions": "".join(f"<li>{html_text(text)}</li>" for text in cautions()),
        "data": _json(data),
        "help": "help_metres" if unit.is_metric else "help_feet",
    }
    template = (page / "phone.html").read_text(encoding="utf-8")
    for name in ("help", "lengths"):
        template = template.replace(f"@{name}@", values.pop(name))
    spoken = _SPOKEN.sub(lambda match: f"{match[0]}{html_text(say(match[1]))}", template)
    return re.sub(r"@([a-z_]+)@", lambda match: values[match[1]], spoken)


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


def _setups(work: CrewWork) -> str:
    """The planned set-ups as a list, when there is more than one."""
    if len(work.setups) < 2:
        return ""
    items = "".join(f"<li>{html_text(words)}</li>" for words in setup_words(work))
    return f'<ul class="small">{items}</ul>'


def _row(lateral: dict[str, Any], unit: Unit) -> str:
    name = html_text(lateral["name"])
    return (
        f'<tr><th scope="row"><button type="button" class="choose" aria-pressed="false">'
        f'<bdi>{name}</bdi></button></th><td class="count"></td>'
        f"<td>{decimal(lateral['elevation'], unit)}</td>"
        f"<td>{decimal(lateral['length'], unit)}</td></tr>"
    )
