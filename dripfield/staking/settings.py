"""The crew's tools and paper with every default filled in."""

from __future__ import annotations

from dataclasses import dataclass

from dripfield.core.errors import input_error
from dripfield.core.lengths import into_unit, parse_length
from dripfield.core.units import Unit
from dripfield.core.words import number
from dripfield.site.model import Site
from dripfield.site.schema.crew import Benchmark, Language, Paper, RodFoot
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
    benchmark: Benchmark | None
    rod_foot: RodFoot
    rod_depth: float
    language: Language
    large_print: bool


def crew_settings(
    site: Site,
    *,
    paper: Paper | None = None,
    scale: float | None = None,
    backsight: float | str | None = None,
    language: Language | None = None,
    large_print: bool | None = None,
) -> CrewSettings:
    """Fill in the defaults; a keyword given here goes before the site's own setting.

    Parameters
    ----------
    site : Site
    paper : str, optional
        ``letter``, ``tabloid``, ``A4`` or ``A3``.
    scale : float, optional
        Feet to an inch, or N of 1:N for metres.
    backsight : float or str, optional
        Reading on the benchmark, as a person writes it: ``5.36``, ``5' 4 1/2"``.
    language : str, optional
        ``en`` or ``es``.
    large_print : bool, optional

    Returns
    -------
    CrewSettings
        The defaults are common practice, no source.

    Raises
    ------
    InputError
        A backsight that is no length, one without a benchmark, or one beyond the rod's top; a foot
        of the rod on the ground that is said to stand below it.
    """
    table, unit, benchmark = site.file.crew, site.unit, site.file.benchmark
    where = "[crew] backsight" if backsight is None else "--backsight"
    given = table.backsight if backsight is None else backsight
    rod_length = setting(table, "rod_length", unit)
    chosen = None
    if given is not None:
        chosen = read_backsight(given, unit, where)
        _check_backsight(chosen, rod_length, benchmark, unit, where)
    _check_foot(table.rod_foot, table.rod_depth, unit)
    return CrewSettings(
        unit=unit,
        paper=paper or table.paper or ("A4" if unit.is_metric else "letter"),
        scale=table.scale if scale is None else scale,
        rod_length=rod_length,
        backsight=chosen,
        benchmark=benchmark,
        rod_foot=table.rod_foot,
        rod_depth=table.rod_depth,
        language=language or table.language,
        large_print=table.large_print if large_print is None else large_print,
    )


def read_backsight(given: float | str, unit: Unit, where: str) -> float:
    """A reading of the rod as a person writes it, in the site's unit.

    Parameters
    ----------
    given : float or str
        A bare number is in the site's unit; ``5' 4 1/2"``, ``5.36 ft`` and ``1.63 m`` say theirs.
    unit : Unit
        The site's.
    where : str
        The key or option, for the message.

    Returns
    -------
    float
        [site unit]

    Raises
    ------
    InputError
        The text is no length of nothing or more.
    """
    if not isinstance(given, str):
        return float(given)
    read = parse_length(given)
    if read is None or read.value < 0.0:
        example = "1.634" if unit.is_metric else "5.36 or 5' 4 3/8\""
        raise input_error(
            f"the backsight {given!r} is no reading of a rod",
            f"write it as {example}",
            file=_file(where),
            field=where,
        )
    return read.value if read.system is None else into_unit(read.value, read.system, unit)


def _file(where: str) -> str | None:
    return "site.toml" if where.startswith("[") else None


def _check_foot(foot: RodFoot, depth: float, unit: Unit) -> None:
    if foot == "ground" and depth > 0.0:
        raise input_error(
            f"the rod's foot stands on the ground and {number(depth, unit.places)} {unit.short}"
            " below it",
            'leave rod_depth out, or give rod_foot = "trench"',
            file="site.toml",
            field="[crew] rod_depth",
        )
    if foot == "trench" and depth == 0.0:
        raise input_error(
            "the rod's foot stands in a trench whose depth is not given",
            "give rod_depth, how far the trench's bottom lies below the ground",
            file="site.toml",
            field="[crew] rod_depth",
        )


def _check_backsight(
    backsight: float, rod_length: float, benchmark: Benchmark | None, unit: Unit, where: str
) -> None:
    reading = f"{backsight:.{unit.places}f} {unit.short}"
    if benchmark is None:
        raise input_error(
            f"a backsight of {reading} is given, but the site has no benchmark to read it on",
            "add a [benchmark] table with name and elevation to site.toml, or leave the backsight"
            " out",
            file=_file(where),
            field=where,
        )
    if not 0.0 <= backsight <= rod_length:
        raise input_error(
            f"the backsight {reading} is not on the rod, which reads 0 to"
            f" {rod_length:.{unit.places}f} {unit.short}",
            "give the reading taken on the benchmark, or the rod's length as [crew] rod_length",
            file=_file(where),
            field=where,
        )
