"""The crew's tools and paper with every default filled in."""

from __future__ import annotations

from dataclasses import dataclass

from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.site.model import Site
from dripfield.site.schema.crew import Benchmark, Paper
from dripfield.site.schema.key import setting


@dataclass(frozen=True)
class CrewSettings:
    """What :class:`~dripfield.site.schema.crew.CrewTable` says, defaults filled in [site unit].

    ``scale`` is feet to an inch, or N of 1:N for metres, or None for "chosen to fit".
    """

    unit: Unit
    paper: Paper
    scale: float | None
    rod_length: float
    backsight: float | None
    tape_accuracy: float
    base_line: tuple[str, str] | None
    benchmark: Benchmark | None


def crew_settings(
    site: Site,
    *,
    paper: Paper | None = None,
    scale: float | None = None,
    backsight: float | None = None,
) -> CrewSettings:
    """Fill in the defaults; a keyword given here goes before the site's own setting.

    The defaults are common practice, no source.

    Raises
    ------
    InputError
        A backsight without a benchmark, or one beyond the rod's top.
    """
    table, unit, benchmark = site.file.crew, site.unit, site.file.benchmark
    where = "[crew] backsight" if backsight is None else "--backsight"
    chosen = table.backsight if backsight is None else backsight
    rod_length = setting(table, "rod_length", unit)
    if chosen is not None:
        _check_backsight(chosen, rod_length, benchmark, unit, where)
    return CrewSettings(
        unit=unit,
        paper=paper or table.paper or ("A4" if unit.is_metric else "letter"),
        scale=table.scale if scale is None else scale,
        rod_length=rod_length,
        backsight=chosen,
        tape_accuracy=setting(table, "tape_accuracy", unit),
        base_line=table.base_line,
        benchmark=benchmark,
    )


def _check_backsight(
    backsight: float, rod_length: float, benchmark: Benchmark | None, unit: Unit, where: str
) -> None:
    reading = f"{backsight:.{unit.places}f} {unit.short}"
    file = "site.toml" if where.startswith("[") else None
    if benchmark is None:
        raise input_error(
            f"a backsight of {reading} is given, but the site has no benchmark to read it on",
            "add a [benchmark] table with name and elevation to site.toml, or leave the backsight"
            " out",
            file=file,
            field=where,
        )
    if not 0.0 <= backsight <= rod_length:
        raise input_error(
            f"the backsight {reading} is not on the rod, which reads 0 to"
            f" {rod_length:.{unit.places}f} {unit.short}",
            "give the reading taken on the benchmark, or the rod's length as [crew] rod_length",
            file=file,
            field=where,
        )
