"""The state of the readiness list in a plain file: read back, and never lost.

``readiness.csv`` is written by the program and ticked by anybody: a word in its column ``state``.
What is in that column, in columns that somebody added and in rows that somebody added is kept as
it is when the list is written again. The column ``origin`` marks the rows that the program made:
one that no longer applies stays while it holds a tick, a row without the mark always stays.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from dripfield.core.errors import input_error
from dripfield.core.textfile import read_text
from dripfield.preparation.readiness import Ready

COLUMNS = ("item", "who", "by", "done_when", "figure", "state", "origin")
NO_LONGER = "no longer asked for"
MADE = "made for this site"
OPEN = "open"
_DONE = {"done", "x", "yes", "y", "ok", "true", "1", "ticked", "✓", "✔", "☑"}
_NOT_NEEDED = {"n/a", "na", "not", "none"}
_MOST_ROWS = 10_000

State = Literal["open", "done", "not needed"]


@dataclass(frozen=True)
class Ticked:
    """A row of the file.

    Attributes
    ----------
    ready : Ready
    state : str
        The cell as written; empty is open.
    made : bool
        By the program, rather than added by hand.
    extra : tuple of (str, str)
        Columns that somebody added.
    """

    ready: Ready
    state: str
    made: bool = True
    extra: tuple[tuple[str, str], ...] = ()

    @property
    def meaning(self) -> State:
        """What the cell says; a word that is not known is open."""
        return meaning(self.state)


@dataclass(frozen=True)
class Readiness:
    """The list with its ticks, and what should be said of the file read."""

    rows: tuple[Ticked, ...]
    notes: tuple[str, ...]

    @property
    def open(self) -> tuple[Ticked, ...]:
        """What is not done, in the order of the list."""
        return tuple(row for row in self.rows if row.meaning == "open")

    @property
    def columns(self) -> tuple[str, ...]:
        """Of the file: the program's own, then those that somebody added."""
        added = dict.fromkeys(name for row in self.rows for name, _ in row.extra)
        return (*COLUMNS, *added)

    @property
    def cells(self) -> list[list[str]]:
        """Rows of the file in the order of its columns."""
        names = self.columns[len(COLUMNS) :]
        table = []
        for row in self.rows:
            one, extra = row.ready, dict(row.extra)
            own = [one.item, one.who, one.by, one.done_when, one.figure, row.state]
            own.append(MADE if row.made else "")
            table.append(own + [extra.get(name, "") for name in names])
        return table


def meaning(state: str) -> State:
    """What a cell of the column ``state`` says."""
    text = state.strip().lower()
    first = text.split()[0].rstrip(".,:;!") if text else ""
    if text == "not done":
        return "open"
    if first in _DONE:
        return "done"
    if first in _NOT_NEEDED:
        return "not needed"
    return "open"


def read_readiness(path: Path) -> tuple[Ticked, ...]:
    """A readiness list as somebody left it, by hand or by a spreadsheet.

    Raises
    ------
    InputError
        No column ``item`` or ``state``, too many rows, or text that is no table.
    """
    text = read_text(path, 2_000_000)
    first = next(iter(text.lstrip().splitlines()), "")
    delimiter = max(",;\t", key=first.count)
    try:
        table = list(csv.reader(io.StringIO(text), delimiter=delimiter, strict=True))
    except csv.Error as problem:
        raise input_error(
            f"this is no table ({problem})", "save it as CSV, or take it away", file=path
        ) from None
    rows = [[cell.strip() for cell in row] for row in table if any(cell.strip() for cell in row)]
    header = [name.lower() for name in rows[0]] if rows else []
    for name in ("item", "state"):
        if name not in header:
            raise input_error(
                f"the readiness list has no column {name!r}",
                f"its header is {','.join(COLUMNS)}",
                file=path,
                row=1,
            )
    if len(rows) > _MOST_ROWS:
        raise input_error(
            f"the readiness list has {len(rows) - 1} rows",
            "check that it is the right file",
            file=path,
        )
    return tuple(_row(header, row) for row in rows[1:])


def _row(header: list[str], row: list[str]) -> Ticked:
    cells = dict(zip(header, row + [""] * (len(header) - len(row)), strict=False))
    beyond = row[len(header) :]
    extra = [(name, cells[name]) for name in header if name not in COLUMNS and name]
    extra += [(f"column {len(header) + i}", cell) for i, cell in enumerate(beyond, 1) if cell]
    own = {name: cells.get(name, "") for name in COLUMNS}
    return Ticked(
        Ready(own["item"], own["who"], own["by"], own["done_when"], own["figure"]),
        own["state"],
        own["origin"] == MADE,
        tuple(extra),
    )


def merged(items: Sequence[Ready], *files: Sequence[Ticked]) -> Readiness:
    """The list made now, with the ticks of files read before.

    Parameters
    ----------
    items : sequence of Ready
        Made for the site as it is now.
    *files : sequence of Ticked
        What was read, the earlier before the later: a state in a later one goes before an earlier.

    Returns
    -------
    Readiness
        The items, then rows added by hand, then rows that no longer apply and hold a tick.
    """
    found: dict[tuple[str, int], Ticked] = {}
    notes = []
    for rows in files:
        times: Counter[str] = Counter()
        for row in rows:
            name = _key(row.ready.item)
            key = (name, times[name])
            times[name] += 1
            found[key] = _over(found[key], row) if key in found else row
    result = []
    for item in items:
        kept = found.pop((_key(item.item), 0), None)
        state = kept.state if kept and kept.state else OPEN
        result.append(Ticked(item, state, True, kept.extra if kept else ()))
    for row in found.values():
        touched = _said(row.state) or any(value for _, value in row.extra)
        if row.made and not touched:
            continue
        if row.made:
            notes.append(f"{row.ready.item}: {NO_LONGER}, kept with its state {row.state!r}")
        result.append(row)
    for row in result:
        if row.meaning == "open" and _said(row.state):
            notes.append(f"{row.ready.item}: the state {row.state!r} is not understood: open")
    return Readiness(tuple(result), tuple(notes))


def _over(before: Ticked, row: Ticked) -> Ticked:
    """A row of a later file over the same of an earlier one: nothing that was said is lost."""
    extra = {**dict(before.extra), **{name: value for name, value in row.extra if value}}
    undone = row.state.strip().lower() == "not done"
    state = row.state if undone or _said(row.state) or not _said(before.state) else before.state
    return Ticked(row.ready, state, before.made and row.made, tuple(extra.items()))


def _said(state: str) -> bool:
    """Whether somebody wrote a state of their own."""
    return state.strip().lower() not in ("", OPEN, "not done", "no", "todo", "to do")


def _key(item: str) -> str:
    return " ".join(item.lower().split())


def _due(by: str) -> tuple[int, int, str]:
    """Order of what is due: before work starts, by date or days before, then the rest."""
    days = re.fullmatch(r"(\d+) d before", by)
    if by.startswith("before"):
        return 0, 0, ""
    if days:
        return 1, -int(days[1]), ""
    return (2 if by[:1].isdigit() else 3), 0, by


def status(readiness: Readiness) -> str:
    """What is open, a line each, the first due first, or that nothing is."""
    count = len(readiness.rows)
    if not readiness.open:
        return f"ready: {count} of {count} done or not needed"
    lines = [f"{len(readiness.open)} of {count} open"]
    lines += [
        f"  {row.ready.by or 'no date'}: {row.ready.item} ({row.ready.who or 'nobody named'})"
        for row in sorted(readiness.open, key=lambda row: _due(row.ready.by))
    ]
    return "\n".join(lines)
