"""Values that are of the right kind and still cannot be meant.

Bounds by unit, which each key declares with their reason, and what two keys of a table may not say
together.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from pathlib import Path

import msgspec

from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.site.explain import key_name, table_name
from dripfield.site.schema.key import Field, fields_of, setting
from dripfield.site.schema.layout import LayoutTable
from dripfield.site.schema.pump import PumpTable
from dripfield.site.schema.site import SiteFile
from dripfield.site.schema.zones import EmitterTable


def check_bounds(file: SiteFile, path: Path) -> None:
    """Refuse values out of their bounds, and values that contradict each other.

    Raises
    ------
    InputError
        Naming table and key, what was found, what may stand there and why.
    """
    unit = Unit(file.site.units)
    for place, table in tables_in(file):
        for field in fields_of(type(table)):
            _within_bounds(table, field, unit, path, place)
        for key, problem, remedy in _contradictions(table, unit):
            name = key_name(f"{place}.{key}") if key else table_name(place)
            raise input_error(problem, remedy, file=path, field=name)


def tables_in(table: msgspec.Struct, place: str = "") -> Iterator[tuple[str, msgspec.Struct]]:
    """Every table that a file gives, with its place as ``bed.setbacks[0]``; not the whole file."""
    if place:
        yield place, table
    for field in fields_of(type(table)):
        value = getattr(table, field.attribute)
        name = f"{place}.{field.name}" if place else field.name
        if isinstance(value, msgspec.Struct):
            yield from tables_in(value, name)
        elif isinstance(value, list):
            for number, item in enumerate(value):
                if isinstance(item, msgspec.Struct):
                    yield from tables_in(item, f"{name}[{number}]")


def _within_bounds(table: msgspec.Struct, field: Field, unit: Unit, path: Path, place: str) -> None:
    value, key = getattr(table, field.attribute), field.key
    if not isinstance(value, int | float):
        return
    least = None if key.least is None else unit.default(*key.least)
    most = None if key.most is None else unit.default(*key.most)
    if (least is None or value >= least) and (most is None or value <= most):
        return
    name = key.unit_of(unit)
    bounds = [
        f"{word} {bound:,g}"
        for word, bound in (("at least", least), ("at most", most))
        if bound is not None
    ]
    raise input_error(
        f"{value:g} was found, and {key.why}",
        f"give {' and '.join(bounds)} {name}".rstrip(),
        file=path,
        field=key_name(f"{place}.{field.name}"),
    )


def _contradictions(table: msgspec.Struct, unit: Unit) -> Iterator[tuple[str, str, str]]:
    """Key, problem and remedy of what a table's keys may not say together."""
    if isinstance(table, LayoutTable):
        yield from _in_layout(table, unit)
    elif isinstance(table, EmitterTable):
        yield from _in_emitters(table)
    elif isinstance(table, PumpTable):
        yield from _in_pump(table)
    for field in fields_of(type(table)):
        other = field.key.instead
        if other and None not in (getattr(table, other), getattr(table, field.attribute)):
            yield field.name, f"{other} and {field.name} are both given", "give one of them"


def _in_layout(table: LayoutTable, unit: Unit) -> Iterator[tuple[str, str, str]]:
    shortest = setting(table, "min_length", unit)
    if 0.0 < table.max_length < max(shortest, table.spacing):
        yield (
            "max_length",
            f"{table.max_length:g} is less than the shortest piece that is laid or than the "
            f"spacing, {max(shortest, table.spacing):g}",
            "give a longer one, or 0 for no limit",
        )


def _in_emitters(table: EmitterTable) -> Iterator[tuple[str, str, str]]:
    least, most = table.pressure_least, table.pressure_most
    if least is not None and most is not None and least >= most:
        yield (
            "pressure_least",
            f"{least:g} is not less than pressure_most, {most:g}",
            "give the range from the tubing's own sheet",
        )
    if table.exponent > 0.0 and table.pressure_nominal is None:
        yield (
            "exponent",
            f"{table.exponent:g} was found, and the pressure at which an emitter gives its flow is "
            "missing",
            "add pressure_nominal",
        )


def _in_pump(table: PumpTable) -> Iterator[tuple[str, str, str]]:
    for key in ("curve", "other_loss"):
        points = getattr(table, key) or []
        if (at := _not_rising([flow for flow, _ in points])) is not None:
            yield (
                f"{key}[{at}]",
                f"the flow {points[at][0]:g} does not come after {points[at - 1][0]:g}",
                "give the points in the order of flow, each flow once",
            )
    heads = [head for _, head in table.curve or []]
    for at in range(1, len(heads)):
        if heads[at] > heads[at - 1]:
            yield (
                f"curve[{at}]",
                f"the curve rises, from a head of {heads[at - 1]:g} to {heads[at]:g}",
                "give points from the pump's own sheet on which head falls as flow grows",
            )
    if table.other_loss and table.other_loss[0][0] == 0.0 and table.other_loss[0][1] != 0.0:
        yield (
            "other_loss[0]",
            f"{table.other_loss[0][1]:g} is lost without any flow",
            "start at 0, 0 or leave this point out",
        )


def _not_rising(values: Sequence[float]) -> int | None:
    """Number of the first value that is not greater than the one before it."""
    pairs = enumerate(itertools.pairwise(values), 1)
    return next((at for at, (one, two) in pairs if two <= one), None)
