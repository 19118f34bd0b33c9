"""The readiness list to tick on the phone: one HTML file that needs nothing else.

The page's policy allows only its own style and script, by their hashes, and no request at all.
"""

from __future__ import annotations

import base64
import hashlib
import json
from importlib.resources import files
from pathlib import Path

from dripfield.core.cautions import cautions
from dripfield.preparation.prepared import Prepared
from dripfield.preparation.readiness_file import Ticked
from dripfield.sheets.kit.html_table import html_text


def write_tick_page(found: Prepared, path: Path) -> None:
    """Write ``readiness.html``."""
    path.write_text(tick_page(found), encoding="utf-8")


def tick_page(found: Prepared) -> str:
    """The page as text; the same for the same list on every machine."""
    site, readiness = found.design.site, found.readiness
    page = files("dripfield.sheets.preparation") / "page"
    style = (page / "tick.css").read_text(encoding="utf-8")
    script = (page / "tick.js").read_text(encoding="utf-8")
    data = {
        "columns": list(readiness.columns),
        "rows": readiness.cells,
        "key": f"dripfield-readiness:{site.name}:{found.tables.day.date or ''}",
    }
    values = {
        "style_hash": _policy_hash(style),
        "script_hash": _policy_hash(script),
        "title": html_text(f"{site.name}: ready for the day"),
        "site": html_text(site.name),
        "day": html_text(f"Day: {found.tables.day.date}." if found.tables.day.date else ""),
        "style": style,
        "script": script,
        "rows": "\n".join(_row(i, row) for i, row in enumerate(readiness.rows)),
        "cautions": "".join(f"<li>{html_text(text)}</li>" for text in cautions()),
        "data": json.dumps(data, sort_keys=True).replace("<", "\\u003c"),
    }
    text = (page / "tick.html").read_text(encoding="utf-8")
    for name, value in values.items():
        text = text.replace(f"@{name}@", value)
    return text


def _row(number: int, row: Ticked) -> str:
    one = row.ready
    figure = f'<p class="figure">{html_text(one.figure)}</p>' if one.figure else ""
    done = row.meaning != "open"
    return (
        f'<li{" class=done" if done else ""}><button type="button" class="tick"'
        f' aria-pressed="{"true" if done else "false"}" data-row="{number}">'
        f"{html_text(one.item)}</button>"
        f'<p class="who">{html_text(one.by)} · {html_text(one.who)}</p>'
        f"<p>{html_text(one.done_when)}</p>{figure}</li>"
    )


def _policy_hash(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return f"sha256-{base64.b64encode(digest).decode()}"
