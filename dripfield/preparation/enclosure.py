"""Blocks that bring an enclosure's lid to finished grade."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dripfield.core.errors import input_error
from dripfield.core.units import Unit
from dripfield.preparation.practice import COMMON
from dripfield.preparation.stock import Need
from dripfield.site.schema.preparation import EnclosureTable

_FINE = 100  # parts of an inch, or 10 of a millimetre, that stacks are summed in


@dataclass(frozen=True)
class EnclosureHeights:
    """How an enclosure comes to grade.

    Attributes
    ----------
    name : str
    stack : float
        Height wanted between stone and enclosure [in or mm].
    blocks : tuple of (float, int)
        Thickness and number in one stack, the thickest first.
    piers : int
    lid : float
        Elevation at which the lid ends [site unit].
    over : float
        How far that is over what is wanted; negative below [in or mm].
    within : bool
        Whether that is within the tolerance of an inch, 25 mm.
    pile, text : str
        One stack in words; all of it in words.
    needs : tuple of Need
        Blocks and stone for the take-off.
    """

    name: str
    stack: float
    blocks: tuple[tuple[float, int], ...]
    piers: int
    lid: float
    over: float
    within: bool
    pile: str
    text: str
    needs: tuple[Need, ...]


def tolerance(unit: Unit) -> float:
    """How far a lid may end from finished grade: 1 in or 25 mm, common practice, no source."""
    return 25.0 if unit.is_metric else 1.0


def tallest(unit: Unit) -> float:
    """Greatest height that blocks or risers are planned for: 20 ft or 6 m [in or mm]."""
    return 6000.0 if unit.is_metric else 240.0


def enclosure_heights(table: EnclosureTable, unit: Unit) -> EnclosureHeights:
    """Which blocks bring an enclosure's lid to finished grade.

    Raises
    ------
    InputError
        Finished grade below the enclosure's base as it would stand without blocks, or a stack
        taller than 20 ft or 6 m.
    """
    word = unit.small
    bare = table.stands_on + unit.from_small(table.stone)
    places, short = unit.places, unit.short
    if table.grade < bare:
        raise input_error(
            f"finished grade {table.grade:.{places}f} {short} lies below the base of the enclosure"
            f" {table.name}, {bare:.{places}f} {short} without blocks",
            "correct grade, stands_on or stone",
            file="site.toml",
            field="[[enclosure]] grade",
        )
    stack = unit.to_small(table.grade - bare) + table.above - table.height
    if stack > tallest(unit):
        raise input_error(
            f"the enclosure {table.name} would stand on {stack:.0f} {word} of blocks",
            "correct its elevations: grade and stands_on",
            file="site.toml",
            field="[[enclosure]] stands_on",
        )
    thicknesses = table.blocks or ([50.0, 100.0, 200.0] if unit.is_metric else [2.0, 4.0, 8.0])
    close = tolerance(unit)
    blocks = stack_of(stack, thicknesses, close) if stack > close else ()
    over = sum(size * count for size, count in blocks) - stack
    within = abs(over) <= close + 1e-6
    needs = [
        Need(
            f"block, {size:g} {word} thick",
            count * table.piers,
            "each",
            f"{count} in each of {table.piers} stacks of {stack:.1f} {word} under {table.name}",
            "site" if table.blocks else f"site, thicknesses: {COMMON}",
        )
        for size, count in blocks
    ]
    return EnclosureHeights(
        table.name,
        stack,
        blocks,
        table.piers,
        table.grade + unit.from_small(table.above + over),
        over,
        within,
        _pile(table, blocks, word),
        _text(table, stack, blocks, over, within, word),
        (*needs, *_stone(table, unit)),
    )


def stack_of(
    height: float, thicknesses: Sequence[float], close: float
) -> tuple[tuple[float, int], ...]:
    """The fewest blocks whose stack ends within a tolerance, of these the closest.

    Parameters
    ----------
    height : float
        Above zero.
    thicknesses : sequence of float
        Of the blocks to be had, each in any number.
    close : float
        Tolerance; where no stack is within it, the closest stack is taken.

    Returns
    -------
    tuple of (float, int)
        Thickness and number, the thickest first.
    """
    scale = _FINE if close < 10.0 else _FINE // 10
    sizes = sorted({max(1, round(one * scale)) for one in thicknesses}, reverse=True)
    wanted = round(height * scale)
    top = wanted + max(sizes)
    never = top + 1
    fewest = [0] + [never] * top
    last = [0] * (top + 1)
    for total in range(1, top + 1):
        for size in sizes:
            before = fewest[total - size] if size <= total else never
            if before + 1 < fewest[total]:
                fewest[total], last[total] = before + 1, size
    reached = [(total, count) for total, count in enumerate(fewest) if count < never]
    near = [(total, count) for total, count in reached if abs(total - wanted) <= close * scale]
    if near:
        best = min(near, key=lambda one: (one[1], abs(one[0] - wanted), one[0]))[0]
    else:
        best = min(reached, key=lambda one: (abs(one[0] - wanted), one[1]))[0]
    chosen: dict[int, int] = {}
    while best:
        chosen[last[best]] = chosen.get(last[best], 0) + 1
        best -= last[best]
    return tuple((size / scale, chosen[size]) for size in sorted(chosen, reverse=True))


def _text(
    table: EnclosureTable,
    stack: float,
    blocks: tuple[tuple[float, int], ...],
    over: float,
    within: bool,
    word: str,
) -> str:
    limit = "25 mm" if word == "mm" else "an inch"
    where = (
        "at" if abs(over) < 0.05 else f"{abs(over):.1f} {word} {'over' if over > 0 else 'under'}"
    )
    wanted = "finished grade" if not table.above else f"{table.above:g} {word} over finished grade"
    end = f"the lid ends {where} {wanted}, {'within' if within else 'not within'} {limit}"
    if stack < 0.0 and not within:
        return f"{table.name}: no blocks; {end}: dig {-stack:.1f} {word} deeper"
    if not blocks:
        return f"{table.name}: no blocks; {end}"
    return f"{table.name}: {_pile(table, blocks, word)}; {end}"


def _pile(table: EnclosureTable, blocks: tuple[tuple[float, int], ...], word: str) -> str:
    pile = " + ".join(f"{count} x {size:g} {word}" for size, count in blocks)
    return f"{pile} in each of {table.piers} stacks" if pile else "no blocks"


def _stone(table: EnclosureTable, unit: Unit) -> list[Need]:
    """Stone under the whole enclosure, where its length and width are given."""
    if not table.stone or table.length is None or table.width is None:
        return []
    metric = unit.is_metric
    volume = table.length * table.width * table.stone / (1e9 if metric else 46656.0)
    how = (
        f"{table.length:g} x {table.width:g} x {table.stone:g} {'mm' if metric else 'in'} under"
        f" {table.name} / {'1e9' if metric else '46,656'}"
    )
    return [Need("stone", volume, "m3" if metric else "yd3", how, "site")]
