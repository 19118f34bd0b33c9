"""The approved plan as a table of runs, typed from the sheet: CSV or Excel."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path

from dripfield.core.errors import input_error
from dripfield.core.lengths import (
    METRES,
    UNIT_WORDS,
    TypedLength,
    into_unit,
    parse_length,
    system_of,
    unit_in,
)
from dripfield.core.limits import FARTHEST
from dripfield.core.units import Unit
from dripfield.review.model.plan import (
    Plan,
    PlanOptions,
    PlanRun,
    StatedTotals,
    check_names,
    name_key,
    units_option,
)
from dripfield.review.read.sheet_cells import Cells, read_csv_cells, read_excel_cells
from dripfield.review.read.stated_totals import read_totals

_HEADER_ROWS = 30
_NAMED = 20  # rows named in a note
_WORDS = {  # looked for in this order: "lateral length" is a length
    "length": {"length", "len", "lf", "footage"},
    "elevation": {"elevation", "elev", "contour", "grade", "height"},
    "spacing": {"spacing", "oc", "centres", "centers", "centre", "center"},
    "panel": {"panel", "zone"},
    "run": {"run", "runs", "lateral", "laterals", "line", "lat", "name", "id"},
}
_OTHER = {"min", "max", "minimum", "maximum", "ok", "level", "total", "cumulative", "emitter"}
_NOTHING = {"n/a", "na", "none", "tbd", "nil"}
_TOTAL = re.compile(r"\b(?:sub)?totals?\b|\bsum\b", re.IGNORECASE)


@dataclass(frozen=True)
class _Column:
    """Where a quantity stands and the unit that its header gives."""

    number: int
    header: str
    unit: str | None


@dataclass(frozen=True)
class _Reading:
    """What every cell of a table is read with."""

    path: Path
    unit: Unit
    options: PlanOptions

    def length(
        self, text: str, column: _Column, row: int, *, positive: bool = True
    ) -> float | None:
        """The cell's length in the site's unit, None for an empty one."""
        if set(text) <= set("-–—. /?") or text.strip().lower() in _NOTHING:
            return None
        typed = parse_length(text)
        if typed is None:
            raise input_error(
                f"{text[:60]!r} cannot be read as one length",
                "write one number, with or without its unit",
                file=self.path,
                row=row,
                field=column.header,
            )
        if not abs(typed.value) <= FARTHEST or (positive and typed.value <= 0.0):
            raise input_error(
                f"{text[:60]!r} is not a length",
                "give a number greater than zero",
                file=self.path,
                row=row,
                field=column.header,
            )
        if typed.system is None and column.unit is not None:
            system = system_of(column.unit)
            self._check_system(column.header, column, row, system)
            scale = METRES[column.unit] / METRES["m" if system == "metres" else "ft"]
            typed = TypedLength(typed.value * scale, system)
        elif typed.system is not None:
            self._check_system(text, column, row, typed.system)
        if typed.system is None:
            return typed.value * self.options.factor(self.unit)
        return into_unit(typed.value, typed.system, self.unit)

    def _check_system(self, found: str, column: _Column, row: int, system: str) -> None:
        """Refuse metres on a site in feet and the other way about, unless it was said."""
        if system == system_of(self.options.units or self.unit.value):
            return
        if self.options.units:
            problem = f"{found!r} is in {system}, against --plan-units {self.options.units}"
            remedy = "give the unit that the table is in"
        else:
            problem = f"{found!r} is in {system} and the site in {UNIT_WORDS[self.unit.value]}"
            remedy = units_option("m" if system == "metres" else "ft")
        raise input_error(problem, remedy, file=self.path, row=row, field=column.header)


def read_plan_table(path: Path, unit: Unit, options: PlanOptions) -> Plan:
    """Read a table of runs as a person types it from the approved sheet.

    The header may stand in any of the first 30 rows and name its columns in the usual words; what
    stands around the table is passed over. Cells may hold feet and inches, a unit, or words beside
    the number.

    Parameters
    ----------
    path : Path
        ``.csv``, ``.txt``, ``.tsv`` or ``.xlsx``.
    unit : Unit
        The site's.
    options : PlanOptions
        ``units`` says what the table is in, where it is not the site's unit.

    Returns
    -------
    Plan
        Lengths, elevations and spacings in the site's unit; no geometry.

    Raises
    ------
    InputError
        No header, a cell that is not one length, another unit, two runs with one name, no runs.
    """
    if path.suffix.lower() in (".xlsx", ".xlsm"):
        sheets = read_excel_cells(path)
    else:
        sheets = [read_csv_cells(path)]
    found = [(cells, at) for cells in sheets if (at := _find_header(cells)) is not None]
    if not found:
        totals = read_totals(sheets, path, unit)
        if totals.any:
            return _totals_only(path, totals)
        raise input_error(
            f"no row of the first {_HEADER_ROWS} names a run and a length column",
            "write a header such as run,length,elevation,spacing",
            file=path,
        )
    cells, at = found[0]
    below = cells.rows[at + 1 : at + 2]
    columns = _with_units(_columns(cells.rows[at], below, path, at + 1, unit), below)
    table = _read_rows(cells, at, columns, _Reading(path, unit, options))
    notes = []
    if len(sheets) > 1:
        notes.append(f"sheet {cells.sheet!r} of {path.name} was read, the first that holds runs")
    if table.stray:
        rows = ", ".join(map(str, table.stray[:_NAMED]))
        if len(table.stray) > _NAMED:
            rows += f" and {len(table.stray) - _NAMED:,} more"
        notes.append(f"{path.name}: rows passed over as text: {rows}")
    if not table.runs and table.total is not None:
        return _totals_only(path, StatedTotals(length=table.total))
    if not table.runs:
        raise input_error(
            "there is no run below the header", "give each run a row", file=path, row=at + 1
        )
    runs = _named(table.runs, table.panels)
    check_names(runs, path)
    return Plan(path, tuple(runs), totals=StatedTotals(length=table.total), notes=tuple(notes))


def _totals_only(path: Path, totals: StatedTotals) -> Plan:
    return Plan(path, (), totals=totals, notes=(f"{path.name} gives totals and no runs",))


@dataclass
class _Rows:
    """What the rows below the header hold."""

    runs: list[PlanRun] = field(default_factory=list)
    panels: list[str] = field(default_factory=list)
    stray: list[int] = field(default_factory=list)
    total: float | None = None


def _read_rows(cells: Cells, at: int, columns: dict[str, _Column], reading: _Reading) -> _Rows:
    result = _Rows()
    for row, texts in enumerate(cells.rows[at + 1 :], at + 2):
        cell = {
            role: texts[column.number] if column.number < len(texts) else ""
            for role, column in columns.items()
        }

        def length(
            role: str, *, positive: bool = True, cell: dict[str, str] = cell, row: int = row
        ) -> float | None:
            if role not in columns:
                return None
            return reading.length(cell[role], columns[role], row, positive=positive)

        if _is_header_again(texts, columns) or _are_units(texts):
            continue
        if any(_TOTAL.search(text) for text in texts):
            result.total = length("length") or result.total
        elif cell["run"] and (cell["length"] or cell.get("elevation")):
            result.panels.append(cell.get("panel", ""))
            result.runs.append(
                PlanRun(
                    name=cell["run"],
                    length=length("length"),
                    elevation=length("elevation", positive=False),
                    spacing=length("spacing"),
                    row=row,
                )
            )
        elif cell["length"] and parse_length(cell["length"]):
            raise input_error(
                "a length stands in a row without a run",
                "name the run",
                file=reading.path,
                row=row,
                field=columns["run"].header,
            )
        elif any(texts):
            result.stray.append(row)
    return result


def _find_header(cells: Cells) -> int | None:
    """The first row that names a run and a length column, from 0."""
    for number, texts in enumerate(cells.rows[:_HEADER_ROWS]):
        roles = Counter(_role(text) for text in texts)
        if roles["run"] and roles["length"]:
            return number
    return None


def _words(header: str) -> list[str]:
    """The words of a column's name, less its unit; ``o.c.`` and the like as one."""
    plain = re.sub(r"\(.*?\)|\[.*?\]", " ", header.lower().replace("#", " no "))
    plain = re.sub(r"\bo\.\s*c\b\.?|\bo/c\b|\bc\s*[/-]\s*c\b", " oc ", plain)
    return re.findall(r"[a-z]+", plain)


def _role(header: str) -> str | None:
    """What a column holds, by its header."""
    words = _words(header)
    if len(words) > 5 or _OTHER & set(words) or any(letter.isdigit() for letter in header):
        return None
    if words in (["no"], ["number"]):
        return "run"
    return next((role for role, known in _WORDS.items() if known & set(words)), None)


def _columns(
    header: list[str], below: list[list[str]], path: Path, row: int, unit: Unit
) -> dict[str, _Column]:
    """Each role's column; where two read alike, that in the site's unit, then the plain name."""
    given = below[0] if below and _are_units(below[0]) else []
    columns: dict[str, _Column] = {}
    for role in _WORDS:
        numbers = [number for number, text in enumerate(header) if _role(text) == role]
        units = {
            number: unit_in(header[number])
            or (unit_in(given[number]) if number < len(given) else None)
            for number in numbers
        }
        systems = {system_of(own) for own in units.values() if own is not None}
        if len(systems) > 1:
            site = system_of(unit.value)
            own = [n for n in numbers if (u := units[n]) is not None and system_of(u) == site]
            numbers = own or numbers
        numbers.sort(key=lambda number: len(_words(header[number])))
        if len(numbers) > 1 and len(_words(header[numbers[0]])) == len(_words(header[numbers[1]])):
            raise input_error(
                f"the columns {header[numbers[0]]!r} and {header[numbers[1]]!r} both read as "
                f"{role}",
                "rename the one that is not",
                file=path,
                row=row,
            )
        if numbers:
            text = header[numbers[0]]
            columns[role] = _Column(numbers[0], text, unit_in(text))
    return columns


def _is_header_again(texts: list[str], columns: dict[str, _Column]) -> bool:
    """True for a header repeated at the top of the next page."""
    return all(
        column.number < len(texts) and _role(texts[column.number]) == role
        for role, column in columns.items()
    )


def _are_units(texts: list[str]) -> bool:
    """True for a row of units alone, under the header."""
    filled = [text for text in texts if text]
    return bool(filled) and all(
        re.fullmatch(r"[(\[]?[A-Za-z'\" ./-]{1,9}[)\]]?", text) for text in filled
    )


def _with_units(columns: dict[str, _Column], below: list[list[str]]) -> dict[str, _Column]:
    """The columns with the units that a row of units gives those whose header gives none."""
    if not below or not _are_units(below[0]):
        return columns
    units = below[0]
    return {
        role: replace(column, unit=unit_in(units[column.number]))
        if column.unit is None and column.number < len(units)
        else column
        for role, column in columns.items()
    }


def _named(runs: list[PlanRun], panels: list[str]) -> list[PlanRun]:
    """Names as written where that tells the runs apart, else with the panel before them."""
    if len({name_key(run.name) for run in runs}) == len(runs) or not all(panels):
        return runs
    return [
        replace(run, name=f"{panel}-{run.name}") for run, panel in zip(runs, panels, strict=True)
    ]
