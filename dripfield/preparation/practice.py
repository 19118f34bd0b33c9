"""The defaults of preparing, each round in either unit system and marked for what it is.

None has a source: they are either common practice or assumptions, and sheets print them so. What
a person enters goes before them.
"""

from __future__ import annotations

from dataclasses import dataclass

from dripfield.core.units import Unit
from dripfield.site.schema.preparation import PrepareTable

COMMON = "common practice, no source"
ASSUMED = "assumption"
ENTERED = "site"


@dataclass(frozen=True)
class Practice:
    """What :class:`PrepareTable` says, with defaults filled in.

    Attributes
    ----------
    unit : Unit
    table : PrepareTable
    tail, pipe_length, staple_spacing : float
        [site unit]
    coils, blank_coils : tuple of float
        Lengths sold, shortest first [site unit].
    sources : dict of str to str
        For each key defaulted or entered, where its value is from.
    frost_depth : float or None
        As ``[design]`` has it [site unit]; pipe above it is insulated.
    """

    unit: Unit
    table: PrepareTable
    tail: float
    pipe_length: float
    staple_spacing: float
    coils: tuple[float, ...]
    blank_coils: tuple[float, ...]
    sources: dict[str, str]
    frost_depth: float | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """One line for every default that nobody entered."""
        values = {
            "tail": (self.tail,),
            "pipe_length": (self.pipe_length,),
            "staple_spacing": (self.staple_spacing,),
            "coils": self.coils,
            "blank_coils": self.blank_coils,
        }
        return tuple(
            f"[prepare] {key} is taken as {', '.join(f'{v:g}' for v in value)} {self.unit.short}:"
            f" {self.sources[key]}"
            for key, value in values.items()
            if self.sources[key] != ENTERED
        )


def practice_of(table: PrepareTable, unit: Unit, frost_depth: float | None = None) -> Practice:
    """Fill in what the site leaves out.

    Parameters
    ----------
    table : PrepareTable
    unit : Unit
    frost_depth : float, optional
        [site unit]

    Returns
    -------
    Practice
    """
    defaults = {
        "tail": (unit.default(2.0, 0.5), ASSUMED),
        "pipe_length": (unit.default(20.0, 6.0), COMMON),
        "staple_spacing": (unit.default(5.0, 1.5), COMMON),
    }
    filled: dict[str, float] = {}
    sources: dict[str, str] = {}
    for key, (value, source) in defaults.items():
        entered = getattr(table, key)
        filled[key] = value if entered is None else entered
        sources[key] = source if entered is None else ENTERED
    coil = unit.default(500.0, 150.0)
    sources["coils"] = ENTERED if table.coils else COMMON
    sources["blank_coils"] = ENTERED if table.blank_coils else COMMON
    return Practice(
        unit=unit,
        table=table,
        tail=filled["tail"],
        pipe_length=filled["pipe_length"],
        staple_spacing=filled["staple_spacing"],
        coils=tuple(sorted(set(table.coils))) or (coil,),
        blank_coils=tuple(sorted(set(table.blank_coils))) or (unit.default(100.0, 50.0),),
        sources=sources,
        frost_depth=frost_depth,
    )
