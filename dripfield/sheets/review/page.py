"""A review sheet as one web page that needs nothing else: no network, no script."""

from __future__ import annotations

import io
import re
from pathlib import Path

from dripfield.core.table import Table
from dripfield.sheets.kit.html_table import html_table, html_text
from dripfield.sheets.kit.style import POINTS_PER_INCH, drawing_defaults, usual_papers
from dripfield.sheets.review.content import Section, Sheet
from dripfield.sheets.review.overlay import draw_overlay
from dripfield.site.model import Site

_STYLE = """
* { box-sizing: border-box; }
body { font: 16px/1.4 system-ui, sans-serif; color: #000; background: #fff; margin: 0 auto;
  padding: 1rem; max-width: 75rem; }
h1 { font-size: 1.5rem; margin: 0; overflow-wrap: anywhere; }
h2 { font-size: 1.1rem; margin: 1.6rem 0 0.4rem; border-top: 2px solid #000; padding-top: 0.5rem; }
p { margin: 0.3rem 0; }
.answer { border: 3px solid #000; padding: 0.5rem 0.8rem; font-weight: bold; font-size: 1.15rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; font-size: 0.85rem; }
th, td { border-bottom: 1px solid #888; padding: 0.2rem 0.5rem; text-align: left;
  vertical-align: top; }
th { border-bottom: 2px solid #000; white-space: pre-line; vertical-align: bottom; }
th.number, td.number { text-align: right; white-space: nowrap;
  font-variant-numeric: tabular-nums; }
th, td { min-width: 3rem; }
td.wide { min-width: 16rem; }
tr.marked { background: #d9d9d9; }
tr.marked td:first-child { font-weight: bold; }
code { font-size: 0.75rem; overflow-wrap: anywhere; }
figure { margin: 0; }
svg { width: 100%; height: auto; }
.signature { display: grid; grid-template-columns: repeat(4, 1fr); border: 2px solid #000;
  min-height: 5rem; }
.signature span { padding: 0.3rem; font-weight: bold; }
.signature span + span { border-left: 1px solid #000; }
@media (max-width: 40rem) { .signature { grid-template-columns: 1fr; }
  .signature span { min-height: 3rem; }
  .signature span + span { border-left: 0; border-top: 1px solid #000; } }
@media print { body { max-width: none; padding: 0; } tr { break-inside: avoid; } }
"""


def write_page(path: Path, site: Site, sheet: Sheet) -> None:
    """Write the sheet as HTML.

    Parameters
    ----------
    path : Path
    site : Site
    sheet : Sheet
    """
    path.write_text(page(site, sheet), encoding="utf-8", newline="\n")


def page(site: Site, sheet: Sheet) -> str:
    """The page as text; the same for the same sheet on every machine."""
    signature = "".join(f"<span>{html_text(field)}</span>" for field in sheet.signature)
    files = "".join(
        f"<tr><td>{html_text(name)}</td><td><code>{digest}</code></td></tr>"
        for name, digest in sheet.files
    )
    parts = [
        f"<h1>{html_text(sheet.site)}</h1>",
        f"<p>{html_text(sheet.title)}</p>",
        *(f"<p>{html_text(fact)}</p>" for fact in sheet.facts),
        f'<p class="answer">{html_text(sheet.answer)}</p>',
        f"<p>{html_text(sheet.counts)}</p>",
        *(_list(one) for one in (sheet.reasons, sheet.conditions) if one.lines),
        *(_table(table) for table in sheet.summary),
        _list(sheet.unchecked),
        _list(sheet.notes),
        f"<h2>{html_text(sheet.overlay.title.capitalize())}</h2>",
        f"<figure>{_picture(site, sheet)}</figure>",
        *(_table(table) for table in sheet.tables),
        f'<h2>Signature</h2><div class="signature">{signature}</div>',
        *(f"<p>{html_text(statement)}</p>" for statement in sheet.statements),
        f'<h2>Input files (SHA-256)</h2><div class="scroll"><table>{files}</table></div>',
        f"<p>Layout {html_text(sheet.code)}, dripfield {html_text(sheet.version)}</p>",
    ]
    body = "\n".join(part for part in parts if part)
    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html_text(sheet.title)}: {html_text(sheet.site)}</title>\n"
        f"<style>{_STYLE}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def _table(table: Table) -> str:
    return f"<h2>{html_text(table.title)}</h2>{html_table(table)}" if table.rows else ""


def _list(section: Section) -> str:
    items = "".join(f"<li>{html_text(line)}</li>" for line in section.lines or ("nothing",))
    return f"<h2>{html_text(section.title)}</h2><ul>{items}</ul>"


def _picture(site: Site, sheet: Sheet) -> str:
    """The map as an SVG element."""
    from matplotlib.figure import Figure

    paper = usual_papers(site.unit)[1 if sheet.overlay.large else 0]
    width, height = paper.width, 0.8 * paper.height
    with drawing_defaults():
        figure = Figure(figsize=(width / POINTS_PER_INCH, height / POINTS_PER_INCH))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_axis_off()
        axes.set_autoscale_on(False)
        axes.set_xlim(0.0, width)
        axes.set_ylim(0.0, height)
        area = (2.0, 2.0, width - 4.0, height - 4.0)
        draw_overlay(axes, site, paper, sheet.overlay, area)
        stream = io.StringIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    text = stream.getvalue()
    drawing = text[text.index("<svg") :].strip()
    drawing = re.sub(r"<metadata>.*?</metadata>", "", drawing, flags=re.DOTALL)
    return drawing.replace("<svg", f'<svg role="img" aria-label="{html_text(sheet.title)}"', 1)
